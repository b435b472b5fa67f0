#include "tests/daemon/store/store_fixture.hpp"
#include "tests/daemon/store/volatile_disk.hpp"

#include <algorithm>
#include <cstdlib>
#include <iostream>
#include <set>

#include "daemon/store/chain_findings.hpp"

// The power fails at any write, flush, truncation or deletion, and the disk keeps of what was not synchronised what it
// likes. Whatever was reported as recorded is there afterwards.
namespace oxherd::daemon::power_loss_test {

using namespace store_test;
using alarms::State;

/// Of the lines of an alarm, each the other: so that the state kept beside them shows which line it belongs to.
State state_after(std::int64_t sequence) { return sequence % 2 == 0 ? State::acknowledged : State::unacknowledged; }

/// Memory, so that thousands of lives of a store cost no flush of a real disk.
std::filesystem::path place_of(const ScratchDir& dir) {
  const std::filesystem::path memory = "/dev/shm";
  return std::filesystem::is_directory(memory) ? memory / dir.path().filename() : dir.path();
}

class LivesOfAStore {
public:
  explicit LivesOfAStore(std::uint64_t seed) : random_{seed} {}
  ~LivesOfAStore() {
    std::error_code ignored;
    std::filesystem::remove_all(dir_, ignored);
  }
  LivesOfAStore(const LivesOfAStore&) = delete;
  LivesOfAStore& operator=(const LivesOfAStore&) = delete;

  /// Works until the power fails, or stops in order; then looks at what is left.
  void live() {
    disk_.cut_after(random_() % 160);
    const bool stopped_in_order = work() && !disk_.is_cut(); // it may also fail while the store closes
    if (disk_.is_cut()) ++cuts;
    disk_.lose_power(random_);
    look(stopped_in_order);
  }

  std::uint64_t cuts = 0, lines_confirmed = 0, calibrations_confirmed = 0, readings_entered = 0, readings_lost = 0;
  std::size_t most_lost = 0; ///< readings in one cut

private:
  /// Whether the power lasted to its end.
  bool work() {
    entered_.clear();
    const auto opened = store::open_paced(dir_, keep_all(), hurried);
    if (!opened) return false; // the power failed meanwhile
    Store& store = **opened;
    std::int64_t last = store.remembered().last_sequence;
    for (int act = 0; act < 40 && !disk_.is_cut(); ++act) {
      switch (random_() % 8) {
      case 0:
        if (const auto number = store.add(calibrated(++calibrations_begun_))) {
          calibrations_.insert(*number);
          ++calibrations_confirmed;
        }
        break;
      case 1:
      case 2:
        ++last;
        write_alarm(store, last, state_after(last));
        if (committed(store)) {
          lines_confirmed += static_cast<std::uint64_t>(last - confirmed_);
          confirmed_ = last;
        }
        break;
      case 3:
        ++last;
        write_alarm(store, last, state_after(last));
        break;
      default:
        const WallTime at = morning + std::chrono::milliseconds{++readings_entered};
        store.reading(reading_at(at));
        entered_.push_back(at);
      }
    }
    if (committed(store)) confirmed_ = std::max(confirmed_, last);
    return !disk_.is_cut();
  }

  static CalibrationRecord calibrated(int number) {
    CalibrationRecord record;
    record.performed = morning + std::chrono::seconds{number};
    record.recorded = record.performed + 1min;
    record.room = "cryo-annexe";
    record.sensor = "cell-a";
    record.serial = "LK-0007";
    record.model = "concentration";
    record.author = "R. Finch";
    record.reason = std::to_string(number);
    compensation::Calibration calibration;
    calibration.span.signal = {millivolts(12.0), 2e-5};
    calibration.span.gas.temperature = {celsius(21.0), 0.3};
    calibration.span.gas.humidity = {percent_humidity(45.0), 0.02};
    calibration.span.gas.pressure = {kilopascals(99.8), 30.0};
    calibration.zero = {millivolts(0.4), 1e-5};
    record.points.emplace_back().values = calibration.span;
    record.calibration = calibration;
    return record;
  }

  void look(bool stopped_in_order) {
    const auto store = open_store(dir_);
    ASSERT_TRUE(store);
    for (const auto& entry : std::filesystem::directory_iterator{dir_})
      EXPECT_EQ(entry.path().string().find(".damaged-"), std::string::npos) << "taken for damage: " << entry.path();
    look_at_the_journal(*store);
    look_at_calibrations(*store);
    look_at_readings(stopped_in_order);
    const auto findings = examine_chain(dir_, noted_, [](double) {});
    ASSERT_TRUE(findings) << findings.error().what;
    EXPECT_EQ(findings->break_count, 0) << findings->breaks.front().what;
    noted_ = findings->head;
  }

  void look_at_the_journal(const Store& store) {
    const auto lines = journal_in(dir_);
    EXPECT_GE(static_cast<std::int64_t>(lines.size()), confirmed_);
    for (std::size_t i = 0; i < lines.size(); ++i) {
      ASSERT_EQ(lines[i].sequence, static_cast<std::int64_t>(i) + 1); // no gap, nothing twice
      ASSERT_EQ(lines[i].to, state_after(lines[i].sequence));
    }
    confirmed_ = static_cast<std::int64_t>(lines.size()); // what is there now stays
    EXPECT_EQ(store.remembered().last_sequence, confirmed_);
    ASSERT_EQ(store.remembered().alarms.size(), lines.empty() ? 0U : 1U);
    if (!lines.empty()) {
      EXPECT_EQ(store.remembered().alarms[0].recorded.beneath, lines.back().to);
    }
  }

  void look_at_calibrations(Store& store) {
    const auto records = store.calibrations();
    ASSERT_TRUE(records) << records.error().what;
    std::set<std::int64_t> numbers;
    std::set<std::string> reasons;
    for (const auto& record : *records) {
      EXPECT_TRUE(numbers.insert(record.number).second);
      EXPECT_TRUE(reasons.insert(record.reason).second) << "recorded twice";
    }
    EXPECT_TRUE(std::includes(numbers.begin(), numbers.end(), calibrations_.begin(), calibrations_.end()));
    calibrations_ = numbers;
  }

  void look_at_readings(bool stopped_in_order) {
    std::set<WallTime> there;
    for (const auto& reading : readings_in(dir_)) EXPECT_TRUE(there.insert(reading.at).second) << "recorded twice";
    EXPECT_TRUE(std::includes(there.begin(), there.end(), readings_.begin(), readings_.end())) << "older ones are lost";
    const auto first_lost = std::ranges::find_if(entered_, [&](WallTime at) { return !there.contains(at); });
    const auto lost = static_cast<std::size_t>(entered_.end() - first_lost);
    EXPECT_TRUE(std::none_of(first_lost, entered_.end(), [&](WallTime at) { return there.contains(at); }))
        << "a hole among the newest";
    if (stopped_in_order) {
      EXPECT_EQ(lost, 0U);
    }
    readings_lost += lost;
    most_lost = std::max(most_lost, lost);
    readings_ = std::move(there);
  }

  std::mt19937_64 random_;
  VolatileDisk disk_;
  ScratchDir scratch_;
  std::filesystem::path dir_ = place_of(scratch_);
  std::int64_t confirmed_ = 0; ///< the last line that was reported as recorded
  std::set<std::int64_t> calibrations_;
  int calibrations_begun_ = 0;
  std::vector<WallTime> entered_; ///< readings of this life, in order
  std::set<WallTime> readings_;   ///< those that were there when the power was back
  std::optional<ChainHead> noted_;
};

TEST(PowerLoss, CostsNothingThatWasReportedAsRecordedAndOfMeasurementsTheNewestAlone) {
  const char* given = std::getenv("OXHERD_SEED");
  const std::uint64_t seed = given != nullptr ? std::strtoull(given, nullptr, 10) : std::random_device{}();
  SCOPED_TRACE("OXHERD_SEED=" + std::to_string(seed));
  const char* asked = std::getenv("OXHERD_POWER_CUTS");
  const std::uint64_t wanted = asked != nullptr ? std::strtoull(asked, nullptr, 10) : 300;
  std::uint64_t cuts = 0, lines = 0, calibrations = 0, readings = 0, lost = 0;
  std::size_t most_lost = 0;
  for (std::uint64_t place = 0; cuts < wanted && !HasFailure(); ++place) {
    LivesOfAStore lives{seed + place};
    for (int life = 0; life < 15 && !HasFailure(); ++life) lives.live();
    cuts += lives.cuts;
    lines += lives.lines_confirmed;
    calibrations += lives.calibrations_confirmed;
    readings += lives.readings_entered;
    lost += lives.readings_lost;
    most_lost = std::max(most_lost, lives.most_lost);
  }
  std::cout << cuts << " power cuts, " << lines << " lines of the journal and " << calibrations
            << " calibrations reported as recorded and all there; " << lost << " of " << readings
            << " measurements lost, at most " << most_lost << " at once\n";
  EXPECT_GT(lost, 0U) << "nothing was ever lost: the disk kept all, and the test shows nothing";
}

} // namespace oxherd::daemon::power_loss_test
