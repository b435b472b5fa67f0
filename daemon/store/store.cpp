#include "daemon/store/store.hpp"

#include <thread>

#include <fmt/core.h>

#include "daemon/calibration/record_json.hpp"
#include "daemon/clock.hpp"
#include "daemon/log.hpp"
#include "daemon/named_thread.hpp"
#include "daemon/store/schema.hpp"
#include "daemon/store/writer.hpp"

namespace oxherd::daemon {
namespace {

/// Store in SQLite; the writer outlives it should the disk hang.
class SqliteStore final : public Store {
public:
  SqliteStore(std::filesystem::path state_dir, std::shared_ptr<store::Writer> writer, store::Pace pace)
      : state_dir_{std::move(state_dir)}, pace_{pace}, writer_{std::move(writer)}, finished_{writer_->finished()},
        thread_{named_thread("records", [writer = writer_] { writer->run(); })} {}

  ~SqliteStore() override {
    writer_->queue().close();
    if (finished_.wait_for(pace_.close) == std::future_status::ready) {
      thread_.join();
      return;
    }
    log::error("store: {} records are not written after {} s of closing: the disk does not answer",
               writer_->queue().waiting(), pace_.close.count() / 1000);
    thread_.detach();
  }
  SqliteStore(const SqliteStore&) = delete;
  SqliteStore& operator=(const SqliteStore&) = delete;

  void sample(const SampleRecord& record) override { writer_->queue().push(store::MeasurementRow{record}); }
  void reading(const ReadingRecord& record) override {
    writer_->queue().push(store::MeasurementRow{store::flattened(record)});
  }
  void alarm(const AlarmRecord& record, const AlarmSnapshot& snapshot, const AlarmStatus&) override {
    writer_->queue().push(store::AlarmRow{record, snapshot});
  }
  void room_event(const AlarmRecord& record) override { writer_->queue().push(store::AlarmRow{record, {}}); }

  [[nodiscard]] const Remembered& remembered() const override { return writer_->remembered(); }

  [[nodiscard]] tl::expected<std::int64_t, StoreError> add(const CalibrationRecord& record) override {
    if (const auto readable = record_from_json(to_json(record)); !readable)
      return tl::unexpected(StoreError{
          fmt::format("calibration of {}/{} cannot be recorded: {}", record.room, record.sensor, readable.error())});
    store::CalibrationRequest request{record, {}};
    auto done = request.done.get_future();
    writer_->queue().push(std::move(request));
    return done.get();
  }

  [[nodiscard]] tl::expected<std::vector<CalibrationRecord>, StoreError> calibrations() override {
    return calibration_records(state_dir_);
  }

  void when_committed(std::function<void(bool)> done) override { writer_->queue().when_committed(std::move(done)); }
  [[nodiscard]] StoreHealth health() const override { return writer_->health(); }

private:
  const std::filesystem::path state_dir_;
  const store::Pace pace_;
  std::shared_ptr<store::Writer> writer_;
  std::future<void> finished_;
  std::thread thread_; // last: the thread sees a finished object
};

} // namespace

Store::~Store() = default;

tl::expected<std::unique_ptr<Store>, StoreError> store::open_paced(const std::filesystem::path& state_dir,
                                                                   const config::Store& settings, Pace pace) {
  auto writer = Writer::open(state_dir, settings, pace, wall_now());
  if (!writer) return tl::unexpected(writer.error());
  return std::make_unique<SqliteStore>(state_dir, std::move(*writer), pace);
}

tl::expected<std::unique_ptr<Store>, StoreError> Store::open(const std::filesystem::path& state_dir,
                                                             const config::Store& settings) {
  return store::open_paced(state_dir, settings, {});
}

tl::expected<std::vector<CalibrationRecord>, StoreError> calibration_records(const std::filesystem::path& state_dir) {
  auto journal = store::open_for_reading(state_dir, store::journal_schema());
  if (!journal) return tl::unexpected(StoreError{journal.error().what});
  auto records = store::calibrations_in(*journal);
  if (!records) return tl::unexpected(StoreError{records.error().what});
  return std::move(*records);
}

} // namespace oxherd::daemon
