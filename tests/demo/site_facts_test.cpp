#include "demo/site_facts.hpp"

#include <fstream>
#include <map>
#include <set>
#include <sstream>
#include <string>

#include <gtest/gtest.h>

#include "compensation/units.hpp"

namespace oxherd::demo::site_facts_test {

/// The configuration as text: header of a table to its lines "key = value". Enough for a file of our own; the real
/// reader has tests of its own.
std::map<std::string, std::map<std::string, std::string>> tables_of_the_configuration() {
  std::stringstream text; // both files, as `demo/run --control` puts them together
  for (const char* name : {"/demo/larkfield.toml", "/demo/control.toml"})
    text << std::ifstream{std::string{OXHERD_SOURCE_DIR} + name}.rdbuf();
  std::map<std::string, std::map<std::string, std::string>> tables;
  std::string header;
  for (std::string line; std::getline(text, line);) {
    if (line.starts_with('[')) {
      header = line.substr(1, line.find(']') - 1);
      tables[header];
    } else if (const auto equals = line.find(" = "); equals != std::string::npos && !line.starts_with('#')) {
      std::string value = line.substr(equals + 3);
      tables[header][line.substr(0, equals)] = value.substr(0, value.find(" #"));
    }
  }
  return tables;
}

std::string header_of(std::string_view device) {
  const auto slash = device.find('/');
  return "room." + std::string{device.substr(0, slash)} + ".sensor." + std::string{device.substr(slash + 1)};
}

/// The text in quotes after `key = ` inside an inline table.
std::string quoted(const std::string& inline_table, const std::string& key) {
  const auto at = inline_table.find(key + " = \"");
  if (at == std::string::npos) return {};
  const auto from = at + key.size() + 4;
  return inline_table.substr(from, inline_table.find('"', from) - from);
}

double si(const std::string& text, compensation::Dimension dimension) {
  const auto value = compensation::parse_quantity(text, dimension);
  EXPECT_TRUE(value) << text;
  return value.value_or(-1.0);
}

std::string_view profile_of(DeviceKind kind) {
  switch (kind) {
  case DeviceKind::cell: return "\"millivolts-float32\"";
  case DeviceKind::probe: return "\"ambient-int16\"";
  case DeviceKind::co2: return "\"co2-uint16\"";
  case DeviceKind::contact: return "\"door-contact\"";
  case DeviceKind::occupancy: return "\"occupancy-contact\"";
  case DeviceKind::lights: return "\"lights-contact\"";
  case DeviceKind::air_flow: return "\"air-flow-contact\"";
  case DeviceKind::relief_valve: return "\"relief-valve-contact\"";
  case DeviceKind::over_pressure: return "\"over-pressure-int16\"";
  case DeviceKind::outputs: return "";
  }
  return "";
}

std::string trimmed(std::string text) {
  text.erase(text.find_last_not_of(' ') + 1);
  return text;
}

TEST(SiteFacts, HaveTheBusUnitAndProfileOfEverySensorInTheConfiguration) {
  auto tables = tables_of_the_configuration();
  std::set<std::string> of_the_site;
  for (const auto& device : device_facts()) {
    if (device.kind == DeviceKind::outputs) continue;
    SCOPED_TRACE(std::string{device.name});
    const std::string header = header_of(device.name);
    ASSERT_TRUE(tables.contains(header));
    of_the_site.insert(header);
    EXPECT_EQ(trimmed(tables[header]["unit"]), std::to_string(device.unit));
    EXPECT_EQ(trimmed(tables[header]["bus"]), '"' + std::string{name_of(device.line)} + '"');
    EXPECT_EQ(trimmed(tables[header]["profile"]), profile_of(device.kind));
    EXPECT_EQ(tables[header]["measures"].find("\"pressure\"") != std::string::npos, device.has_barometer);
  }
  for (const auto& [header, keys] : tables)
    EXPECT_TRUE(header.find(".sensor.") == std::string::npos || of_the_site.contains(header)) << header;
}

TEST(SiteFacts, HaveTheCellsAndCalibrationsOfTheConfiguration) {
  using compensation::CellModel;
  using compensation::Dimension;
  auto tables = tables_of_the_configuration();
  int cells = 0;
  for (const auto& device : device_facts()) {
    if (!device.cell) continue;
    ++cells;
    SCOPED_TRACE(std::string{device.name});
    const CellFacts& facts = *device.cell;
    const std::string cell = tables[header_of(device.name)]["cell"];
    const std::string calibration = tables[header_of(device.name)]["calibration"];
    const bool concentration = facts.model == CellModel::concentration;
    EXPECT_EQ(quoted(cell, "model"), concentration ? "concentration" : "partial-pressure");
    EXPECT_EQ(quoted(cell, "serial"), facts.serial);
    EXPECT_DOUBLE_EQ(si(quoted(cell, "zero"), Dimension::voltage), facts.zero_mV * 1e-3);
    EXPECT_DOUBLE_EQ(si(quoted(calibration, "signal"), Dimension::voltage), facts.cal_signal_mV * 1e-3);
    EXPECT_DOUBLE_EQ(si(quoted(calibration, "temperature"), Dimension::temperature), facts.cal_temperature_C + 273.15);
    EXPECT_DOUBLE_EQ(si(quoted(calibration, "humidity"), Dimension::humidity), facts.cal_humidity_percent / 100.0);
    EXPECT_DOUBLE_EQ(si(quoted(calibration, "pressure"), Dimension::pressure), facts.cal_pressure_kPa * 1e3);
  }
  EXPECT_EQ(cells, 6);
}

TEST(SiteFacts, HaveTheOutputModuleOfTheConfiguration) {
  auto tables = tables_of_the_configuration();
  const DeviceFacts* module = find_device("outputs");
  ASSERT_NE(module, nullptr);
  for (const char* output : {"output.cryo-beacon", "output.chamber-beacon", "output.heartbeat"}) {
    EXPECT_EQ(trimmed(tables[output]["unit"]), std::to_string(module->unit)) << output;
    EXPECT_EQ(trimmed(tables[output]["bus"]), "\"plant\"") << output;
  }
}

TEST(SiteFacts, HaveThePlantModulesOfTheConfiguration) {
  auto tables = tables_of_the_configuration();
  std::set<std::pair<std::string, std::string>> modules;
  for (const char* name : {"plant-1", "plant-2", "plant-3"})
    modules.insert(
        {std::to_string(find_device(name)->unit), '"' + std::string{name_of(find_device(name)->line)} + '"'});
  int actuators = 0;
  for (auto& [header, keys] : tables) {
    if (trimmed(keys["kind"]) != "\"actuator\"") continue;
    ++actuators;
    EXPECT_TRUE(modules.contains({trimmed(keys["unit"]), trimmed(keys["bus"])})) << header;
  }
  EXPECT_EQ(actuators, 13);
}

TEST(SiteFacts, NameEveryDeviceAndEveryUnitOfALineOnce) {
  std::set<std::string_view> names;
  std::set<std::pair<Line, int>> units;
  for (const auto& device : device_facts()) {
    EXPECT_TRUE(names.insert(device.name).second) << device.name;
    EXPECT_TRUE(units.insert({device.line, device.unit}).second) << device.name;
  }
}

TEST(SiteFacts, NameARoomForEveryInstrument) {
  for (const auto& device : device_facts()) {
    if (device.kind == DeviceKind::outputs) continue;
    int rooms = 0;
    for (const auto& room : room_facts()) rooms += room.name == device.room ? 1 : 0;
    EXPECT_EQ(rooms, 1) << device.name;
    EXPECT_EQ(find_device(device.line, device.unit), &device);
  }
}

} // namespace oxherd::demo::site_facts_test
