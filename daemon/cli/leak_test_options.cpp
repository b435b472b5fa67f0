#include "daemon/cli/cell_records.hpp"
#include "daemon/cli/leak_test_case.hpp"

namespace oxherd::daemon::cli {

std::vector<Option> leak_test_options() {
  return {
      {"--from", "TIME", "when the room was shut and left alone, RFC 3339 with offset", "2026-03-01T08:00:00+01:00"},
      {"--to", "TIME", "end (default: now)", "2026-03-01T08:30:00+01:00"},
      {"--last", "DURATION", "the time until the end, in place of --from: 30min, 12h", "30min"},
      {"--method",
       "METHOD",
       "what tells the leak: pressure (default), oxygen or carbon-dioxide",
       "pressure",
       true,
       {"pressure", "oxygen", "carbon-dioxide"}},
      {"--sensor", "SENSOR", "that measured it (default: the only one)", "over-pressure"},
      {"--volume", "VOLUME", "free volume of the room (default: as its settings say)", "130 m3"},
      {"--u-volume", "VOLUME", "its standard uncertainty (default: 10 %)", "5 m3"},
      {"--at", "PRESSURE", "pressure: at which the leak is told (default: 200 Pa)", "200 Pa"},
      {"--temperature", "SENSOR", "pressure: the room's temperature (default: as its settings say, or the only probe)",
       "air"},
      {"--barometer", "ROOM/SENSOR", "pressure: of the outdoor air (default: the site's barometer)", "cryo-annexe/air"},
      {"--u-zero", "PRESSURE", "pressure: how uncertain the gauge's zero is (default: as all of the gauge)", "0.5 Pa"},
      {"--u-over-pressure", "PRESSURE",
       "pressure: what one reading may be off against the others (default: as recorded, all of the gauge's)", "0.5 Pa"},
      {"--u-temperature", "TEMPERATURE", "pressure: likewise, of the temperature", "0.03 K"},
      {"--u-barometer", "PRESSURE", "pressure: likewise, of the barometer", "5 Pa"},
      {"--outside", "PERCENT", "oxygen, carbon-dioxide: that gas outdoors (default: 20.946 %, 425 ppm)", "20.946 %"},
      {"--u-outside", "PERCENT", "oxygen, carbon-dioxide: its standard uncertainty (default: 0.006 %, 20 ppm)",
       "0.02 %"},
      {"--source", "PERCENT",
       "oxygen, carbon-dioxide: what goods and people add in an hour; below 0 where they use it (default: nothing)",
       "-0.01 %"},
      {"--u-source", "PERCENT", "oxygen, carbon-dioxide: its standard uncertainty (default: 30 % of it)", "0.002 %"},
      {"--u-fraction", "PERCENT", "oxygen, carbon-dioxide: what one reading may be off against the others", "0.02 %"},
      config_option(),
      state_dir_option(),
      json_option()};
}

} // namespace oxherd::daemon::cli
