#include "daemon/calibration/wording.hpp"

#include <gtest/gtest.h>

namespace oxherd::daemon::wording_test {

// Whoever reads it must know that there is no record, why, and what the readings rest on meanwhile.
TEST(NotRecordedText, SaysWhatHoldsForEachAct) {
  CalibrationRecord record;
  record.room = "cryo-annexe";
  record.sensor = "cell-a";
  record.supersedes = 7;
  struct Row {
    CalibrationAct act;
    std::string_view part;
  };
  for (const auto& row :
       {Row{CalibrationAct::adjustment, "The former calibration of cryo-annexe/cell-a stays in force"},
        Row{CalibrationAct::check, "Nothing on record says that cryo-annexe/cell-a was tested"},
        Row{CalibrationAct::bump_test, "Nothing on record says that cryo-annexe/cell-a was tested"},
        Row{CalibrationAct::withdrawal, "Record 7 stands as before"}}) {
    record.act = row.act;
    const auto text = not_recorded_text(record, "disk full");
    EXPECT_TRUE(text.starts_with("NOT RECORDED: disk full. ")) << text;
    EXPECT_NE(text.find(row.part), std::string::npos) << text;
  }
}

} // namespace oxherd::daemon::wording_test
