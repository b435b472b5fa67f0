#include "daemon/collect/roll_up.hpp"

#include <chrono>
#include <utility>

#include <pqxx/pqxx>

#include "daemon/collect/historian_error.hpp"
#include "daemon/log.hpp"

namespace oxherd::daemon::collect {
namespace {

constexpr std::chrono::seconds period{5};

constexpr const char* complete_minutes =
    "WITH complete AS (SELECT start, touched FROM open_minute WHERE start <= now() - interval '70 s' AND touched_at <= "
    "now() - interval '3 s') SELECT start, start + interval '1 min', touched, date_trunc('hour', start, 'UTC') FROM "
    "complete WHERE date_trunc('hour', start, 'UTC') = (SELECT date_trunc('hour', min(start), 'UTC') FROM complete) "
    "ORDER "
    "BY start";

// Each channel by its own piece of the index: a month of samples is never read for one minute of them.
constexpr const char* make_minute =
    "INSERT INTO minute SELECT c.id, $1, s.samples, s.bad, s.mean, s.least, s.greatest FROM channel c CROSS JOIN "
    "LATERAL "
    "(SELECT count(*) AS samples, count(*) FILTER (WHERE quality = 3) AS bad, avg(value) FILTER (WHERE quality IS "
    "DISTINCT "
    "FROM 3) AS mean, min(value) FILTER (WHERE quality IS DISTINCT FROM 3) AS least, max(value) FILTER (WHERE quality "
    "IS "
    "DISTINCT FROM 3) AS greatest FROM sample WHERE channel = c.id AND at >= $1 AND at < $2) s WHERE s.samples > 0 ON "
    "CONFLICT (channel, start) DO UPDATE SET samples = excluded.samples, bad = excluded.bad, mean = excluded.mean, "
    "least = "
    "excluded.least, greatest = excluded.greatest";

constexpr const char* make_hour =
    "INSERT INTO hour SELECT c.id, $1, m.samples, m.bad, m.mean, m.least, m.greatest FROM channel c CROSS JOIN LATERAL "
    "(SELECT sum(samples) AS samples, sum(bad) AS bad, sum(mean * (samples - bad)) / nullif(sum(samples - bad) FILTER "
    "(WHERE mean IS NOT NULL), 0) AS mean, min(least) AS least, max(greatest) AS greatest FROM minute WHERE channel = "
    "c.id "
    "AND start >= $1 AND start < $1::timestamptz + interval '1 h') m WHERE m.samples > 0 ON CONFLICT (channel, start) "
    "DO "
    "UPDATE SET samples = excluded.samples, bad = excluded.bad, mean = excluded.mean, least = excluded.least, greatest "
    "= "
    "excluded.greatest";

/// Only if nothing has come into it since it was looked at.
constexpr const char* close_minute = "DELETE FROM open_minute WHERE start = $1 AND touched = $2";

} // namespace

RollUp::RollUp(std::shared_ptr<pqxx::connection_base> connection) : connection_{std::move(connection)} {}
RollUp::~RollUp() = default;

tl::expected<std::unique_ptr<RollUp>, HistorianError> RollUp::open(const DatabaseSettings& database) {
  const auto connection = connection_words(database);
  if (!connection) return tl::unexpected(HistorianError{false, connection.error()});
  try {
    return std::unique_ptr<RollUp>{new RollUp{std::make_shared<pqxx::connection>(*connection)}};
  } catch (const std::exception& thrown) {
    return tl::unexpected(historian_error(thrown));
  }
}

tl::expected<bool, HistorianError> RollUp::next_hour() {
  try {
    pqxx::work work{*connection_};
    const auto minutes = work.exec(complete_minutes);
    if (minutes.empty()) return false;
    for (const auto& minute : minutes) work.exec_params(make_minute, minute[0].c_str(), minute[1].c_str());
    work.exec_params(make_hour, minutes[0][3].c_str());
    for (const auto& minute : minutes) work.exec_params(close_minute, minute[0].c_str(), minute[2].c_str());
    work.commit();
    return true;
  } catch (const std::exception& thrown) {
    return tl::unexpected(historian_error(thrown));
  }
}

std::string RollUpWorker::turn() {
  if (!roll_up_) {
    auto opened = RollUp::open(database_);
    if (!opened) return opened.error().what;
    roll_up_ = std::move(*opened);
  }
  for (;;) {
    const auto done = roll_up_->next_hour();
    if (!done) {
      roll_up_.reset();
      return done.error().what;
    }
    const std::lock_guard hold{mutex_};
    if (!*done || stopping_) return {};
  }
}

void RollUpWorker::run() {
  std::unique_lock hold{mutex_};
  while (!wake_.wait_for(hold, period, [this] { return stopping_; })) {
    hold.unlock();
    auto trouble = turn();
    hold.lock();
    if (!trouble.empty() && trouble_.empty()) log::warning("minutes and hours are not rolled up: {}", trouble);
    if (trouble.empty() && !trouble_.empty()) log::info("minutes and hours are rolled up again");
    trouble_ = std::move(trouble);
  }
}

void RollUpWorker::stop() {
  const std::lock_guard hold{mutex_};
  stopping_ = true;
  wake_.notify_all();
}

std::string RollUpWorker::trouble() const {
  const std::lock_guard hold{mutex_};
  return trouble_;
}

} // namespace oxherd::daemon::collect
