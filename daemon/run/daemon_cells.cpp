#include <utility>

#include <boost/asio/post.hpp>

#include "daemon/clock.hpp"
#include "daemon/log.hpp"
#include "daemon/run/daemon.hpp"

namespace oxherd::daemon {

namespace asio = boost::asio;

std::shared_ptr<const std::vector<CalibrationRecord>> load_records(Store& store) {
  auto records = store.calibrations();
  if (!records)
    log::error("calibrations of the store cannot be read, those of the file are used: {}", records.error().what);
  return std::make_shared<const std::vector<CalibrationRecord>>(records ? std::move(*records)
                                                                        : std::vector<CalibrationRecord>{});
}

void Daemon::take_records(std::vector<CalibrationRecord> records) {
  records_ = std::make_shared<const std::vector<CalibrationRecord>>(std::move(records));
  review_cells();
}

void Daemon::review_cells() {
  next_review_ = monotonic_now() + review_period;
  asio::post(aside_, [this, generation = generation_, cells = cells_in_use(site_.settings()), records = records_] {
    auto reasons = cell_reasons(cells, *records, wall_now());
    asio::post(loop_, [this, generation, reasons = std::move(reasons)] {
      // Of a configuration that has gone: the reload has judged the cells of the new one.
      if (generation == generation_) set_cell_reasons(reasons);
    });
  });
}

void Daemon::set_cell_reasons(const CellReasons& reasons) {
  const auto& rooms = site_.settings().rooms;
  for (std::size_t r = 0; r < rooms.size(); ++r)
    for (std::size_t s = 0; s < rooms[r].sensors.size(); ++s)
      if (const auto found = reasons.find(rooms[r].name + "/" + rooms[r].sensors[s].name); found != reasons.end())
        site_.set_cell_reasons({r, s}, found->second);
}

} // namespace oxherd::daemon
