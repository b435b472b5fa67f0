#include "drivers/poll.hpp"

#include <deque>

#include <gtest/gtest.h>

namespace oxherd::poll_test {

using namespace drivers;
using namespace std::chrono_literals;

/// A bus whose replies are laid out beforehand. Registers hold their own address.
class PreparedBus final : public RegisterBus {
public:
  std::deque<BusError> errors; ///< one for each of the next reads; `refused_locally` with code -1 stands for success
  std::vector<Span> asked;

  tl::expected<std::vector<std::uint16_t>, BusError> read(int /*unit*/, Span span,
                                                          std::chrono::milliseconds /*timeout*/) override {
    asked.push_back(span);
    if (!errors.empty()) {
      const BusError error = errors.front();
      errors.pop_front();
      if (error.exception_code >= 0) return tl::unexpected(error);
    }
    std::vector<std::uint16_t> words(span.count);
    for (std::size_t i = 0; i < words.size(); ++i) words[i] = static_cast<std::uint16_t>(span.address + i);
    return words;
  }
  std::vector<std::vector<std::uint16_t>> read_together(std::span<const Read> reads) override {
    std::vector<std::vector<std::uint16_t>> words;
    for (const auto& read : reads) {
      auto one = this->read(read.unit, read.span, read.timeout);
      words.push_back(one ? *std::move(one) : std::vector<std::uint16_t>{});
    }
    return words;
  }
  tl::expected<void, BusError> write_coil(int, std::uint16_t, bool, std::chrono::milliseconds) override { return {}; }
  tl::expected<void, BusError> write_register(int, std::uint16_t, std::uint16_t, std::chrono::milliseconds) override {
    return {};
  }
  tl::expected<void, BusError> write_registers(int, std::uint16_t, const std::vector<std::uint16_t>&,
                                               std::chrono::milliseconds) override {
    return {};
  }
  void interrupt() override {}
};

BusError success() { return {BusFault::refused_locally, -1, {}}; }

Device device_with(std::vector<int> addresses, int retries = 1) {
  Device device{.unit = 11, .map = {}, .limits = {.gap_max = 0}, .timeout = 500ms, .retries = retries};
  for (const int address : addresses)
    device.map.points.push_back({.address = static_cast<std::uint16_t>(address), .encoding = Encoding::uint16});
  return device;
}

PollResult poll_once(PreparedBus& bus, const Device& device) {
  return poll(bus, device, plan_reads(device.map, device.limits));
}

TEST(Poll, GivesEachPointItsOwnRegistersInTheOrderOfTheMap) {
  PreparedBus bus;
  const PollResult result = poll_once(bus, device_with({301, 7, 300, 8}));
  ASSERT_EQ(result.values.size(), 4U);
  EXPECT_EQ(result.values[0].raw, 301.0);
  EXPECT_EQ(result.values[1].raw, 7.0);
  EXPECT_EQ(result.values[2].raw, 300.0);
  EXPECT_EQ(result.values[3].raw, 8.0);
  EXPECT_EQ(result.requests, 2);
  EXPECT_EQ(result.failures, 0);
  EXPECT_FALSE(result.error);
}

TEST(Poll, ReadsStatusBitsOfEitherSense) {
  PreparedBus bus;
  Device device = device_with({});
  device.map.status = {{.address = 0x0102, .mask = 0x0002},
                       {.address = 0x0102, .mask = 0x0004},
                       {.address = 0x0102, .mask = 0x0002, .active_low = true},
                       {.address = 0x0102, .mask = 0x0004, .active_low = true}};
  EXPECT_EQ(poll_once(bus, device).status, (std::vector<bool>{true, false, false, true}));
}

TEST(Poll, SetsNoStatusBitThatWasNotRead) {
  PreparedBus bus;
  bus.errors = {{BusFault::timeout, 0, "silent"}};
  Device device = device_with({}, 0);
  device.map.status = {{.address = 1, .mask = 1}, {.address = 1, .mask = 1, .active_low = true}};
  const PollResult result = poll_once(bus, device);
  EXPECT_EQ(result.status, (std::vector<bool>{false, false}));
  EXPECT_TRUE(result.error);
}

TEST(Poll, TriesAFailedRequestAgainAndCountsIt) {
  PreparedBus bus;
  bus.errors = {{BusFault::garbled, 0, "noise"}, success()};
  const PollResult result = poll_once(bus, device_with({7}));
  EXPECT_EQ(result.values[0].raw, 7.0);
  EXPECT_EQ(result.values[0].fault, ValueFault::none);
  EXPECT_EQ(result.requests, 2);
  EXPECT_EQ(result.failures, 1);
  EXPECT_FALSE(result.error);
}

TEST(Poll, TriesOnlyWhatMayGoBetterTheNextTime) {
  struct Row {
    BusError error;
    int requests;
  };
  const std::vector<Row> rows{{{BusFault::exception, 1, ""}, 1},     {{BusFault::exception, 2, ""}, 1},
                              {{BusFault::exception, 3, ""}, 1},     {{BusFault::exception, 4, ""}, 3},
                              {{BusFault::exception, 6, ""}, 3},     {{BusFault::exception, 11, ""}, 3},
                              {{BusFault::timeout, 0, ""}, 3},       {{BusFault::garbled, 0, ""}, 3},
                              {{BusFault::not_connected, 0, ""}, 3}, {{BusFault::refused_locally, 0, ""}, 1}};
  for (const Row& row : rows) {
    SCOPED_TRACE(testing::Message() << static_cast<int>(row.error.fault) << ' ' << row.error.exception_code);
    PreparedBus bus;
    bus.errors = {row.error, row.error, row.error, row.error};
    const PollResult result = poll_once(bus, device_with({7}, 2));
    EXPECT_EQ(result.requests, row.requests);
    EXPECT_EQ(result.failures, row.requests);
    EXPECT_EQ(result.values[0].fault, ValueFault::not_read);
    ASSERT_TRUE(result.error);
    EXPECT_EQ(result.error->fault, row.error.fault);
  }
}

TEST(Poll, LeavesTheRestOfASilentDeviceAlone) {
  PreparedBus bus;
  bus.errors = {success(), {BusFault::timeout, 0, "silent"}};
  const PollResult result = poll_once(bus, device_with({7, 300, 600, 900}, 0));
  EXPECT_EQ(bus.asked.size(), 2U);
  EXPECT_EQ(result.values[0].fault, ValueFault::none);
  for (const std::size_t i : {1U, 2U, 3U}) EXPECT_EQ(result.values[i].fault, ValueFault::not_read);
}

TEST(Poll, GoesOnAfterARefusedRequest) {
  PreparedBus bus;
  bus.errors = {{BusFault::exception, 2, "no such address"}, success()};
  const PollResult result = poll_once(bus, device_with({7, 300}));
  EXPECT_EQ(result.values[0].fault, ValueFault::not_read);
  EXPECT_EQ(result.values[1].raw, 300.0);
  ASSERT_TRUE(result.error);
  EXPECT_EQ(result.error->exception_code, 2);
}

TEST(Poll, GivesTheSameForSeveralDevicesAtOnceAndNothingWhereSomethingWasNotRead) {
  PreparedBus bus;
  const std::vector<Device> devices{device_with({7, 300}), device_with({40, 600}), device_with({9})};
  std::vector<std::vector<Span>> plans;
  std::vector<PlannedDevice> planned;
  for (const auto& device : devices) plans.push_back(plan_reads(device.map, device.limits));
  for (std::size_t i = 0; i < devices.size(); ++i) planned.push_back({&devices[i], &plans[i]});
  bus.errors = {success(), success(), success(), {BusFault::exception, 2, "no such address"}, success()};
  const auto results = poll_together(bus, planned);
  ASSERT_EQ(results.size(), 3U);
  ASSERT_TRUE(results[0] && results[2]);
  EXPECT_FALSE(results[1]) << "half of it is not what the device says";
  EXPECT_EQ(results[0]->values[0].raw, 7.0);
  EXPECT_EQ(results[0]->values[1].raw, 300.0);
  EXPECT_EQ(results[0]->requests, 2);
  EXPECT_EQ(results[2]->values[0].raw, 9.0);
  EXPECT_FALSE(results[2]->error);
}

} // namespace oxherd::poll_test
