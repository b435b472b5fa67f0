#include "compensation/cells/catalogue.hpp"

#include <set>

#include <gtest/gtest.h>

namespace oxherd::compensation::catalogue_test {

TEST(CellCatalogue, HasEveryModelOnceAndComplete) {
  std::set<CellModel> models;
  std::set<std::string_view> names;
  for (const cells::Law* law : cells::catalogue()) {
    SCOPED_TRACE(law->name);
    EXPECT_TRUE(models.insert(law->model).second);
    EXPECT_TRUE(names.insert(law->name).second);
    EXPECT_FALSE(law->help.empty());
    EXPECT_NE(law->stimulus, nullptr);
    EXPECT_NE(law->fraction, nullptr);
    EXPECT_NE(law->factors, nullptr);
    EXPECT_EQ(cells::find(law->name), law);
    EXPECT_EQ(&cells::law_of(law->model), law);
  }
  for (const auto model :
       {CellModel::concentration, CellModel::partial_pressure, CellModel::mole_fraction, CellModel::nernst})
    EXPECT_TRUE(models.contains(model)) << static_cast<int>(model);
}

TEST(CellCatalogue, FindsModelsByTheNamesOfTheSettings) {
  for (const std::string_view name : {"concentration", "partial-pressure", "mole-fraction", "nernst"})
    EXPECT_NE(cells::find(name), nullptr) << name;
  EXPECT_EQ(cells::find("partial_pressure"), nullptr);
  EXPECT_EQ(cells::find(""), nullptr);
}

} // namespace oxherd::compensation::catalogue_test
