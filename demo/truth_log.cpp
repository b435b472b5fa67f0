#include "demo/truth_log.hpp"

#include <ctime>
#include <stdexcept>

#include <fmt/core.h>

#include "demo/story.hpp"

namespace oxherd::demo {
namespace {

constexpr std::chrono::milliseconds truth_period{200};

std::string in_rfc3339(WallTime wall) {
  const auto day = std::chrono::floor<std::chrono::days>(wall);
  const std::chrono::year_month_day date{day};
  const std::chrono::hh_mm_ss time{wall - day};
  return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}.{:03}Z", static_cast<int>(date.year()),
                     static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()), time.hours().count(),
                     time.minutes().count(), time.seconds().count(), time.subseconds().count());
}

/// Names are our own table's: plain letters, digits, dashes and slashes, so nothing needs escaping.
std::string room_object(const Room& room) {
  const TrueAir air = room.air();
  return fmt::format(R"("{}":{{"oxygen":{:.7f},"oxygen_wet":{:.7f},"carbon_dioxide":{:.8f},"temperature":{:.3f},)"
                     R"("humidity":{:.4f},"vapour_fraction":{:.7f},"people":{},"over_pressure":{:.2f},)"
                     R"("taken_over":{}}})",
                     room.facts().name, air.oxygen.si(), air.oxygen.si() * (1.0 - air.vapour_fraction),
                     air.carbon_dioxide.si(), air.temperature.si(), air.humidity.si(), air.vapour_fraction,
                     room.controls.people, room.over_pressure_Pa(), room.plant().has_value());
}

} // namespace

std::string truth_line(const Site& site, const OutputModule& outputs, WallTime wall) {
  std::string line = fmt::format(R"({{"simulated":{:.3f},"wall":"{}","wall_ms":{},"pressure":{:.1f},"rooms":{{)",
                                 std::chrono::duration<double>(site.now()).count(), in_rfc3339(wall),
                                 wall.time_since_epoch().count(), site.weather().pressure().si());
  const char* comma = "";
  for (const auto& room : site.rooms()) {
    line += comma + room_object(room);
    comma = ",";
  }
  line += "},\"uncorrected\":{";
  comma = "";
  for (const auto& device : device_facts()) {
    const SimulatedCell* cell = site.cell(device.name);
    if (cell == nullptr) continue;
    line += fmt::format(R"({}"{}":{:.6f})", comma, device.name, cell->uncorrected());
    comma = ",";
  }
  line += "},\"faults\":{";
  comma = "";
  for (const auto& device : device_facts()) {
    const Fault fault = site.fault_of(device.name);
    if (fault == Fault::none) continue;
    line += fmt::format(R"({}"{}":"{}")", comma, device.name, name_of(fault));
    comma = ",";
  }
  line += "},\"coils\":[";
  comma = "";
  for (const bool on : outputs.coils()) {
    line += fmt::format("{}{}", comma, on);
    comma = ",";
  }
  line += fmt::format("],\"heartbeat\":{}}}", outputs.registers()[10]);
  return line;
}

TruthLog::TruthLog(const std::string& path) : file_{std::fopen(path.c_str(), "we")} {
  if (!file_) throw std::runtime_error("cannot write " + path);
}

bool TruthLog::write(const Site& site, const OutputModule& outputs, WallTime wall) {
  const bool changed = outputs.coils() != coils_;
  if (wall < next_ && !changed) return true;
  next_ = wall + truth_period;
  coils_ = outputs.coils();
  const std::string line = truth_line(site, outputs, wall) + "\n";
  return std::fputs(line.c_str(), file_.get()) >= 0 && std::fflush(file_.get()) == 0;
}

} // namespace oxherd::demo
