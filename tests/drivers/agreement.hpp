#pragma once

#include <chrono>
#include <initializer_list>

#include <gtest/gtest.h>

#include "drivers/register_bus.hpp"

namespace oxherd::drivers_test {

/// What a server of the tests holds, 200 of each from address 0, before anything is written:
inline std::uint16_t holding_at(int address) { return static_cast<std::uint16_t>(address * 257 + 11); }
inline std::uint16_t input_at(int address) { return static_cast<std::uint16_t>(address * 31 + 5); }
inline std::uint16_t coil_at(int address) { return address % 3 == 0 ? 1 : 0; }
inline std::uint16_t discrete_at(int address) { return address % 5 == 0 ? 1 : 0; }

/// Asks beyond the last address of a server.
inline drivers::BusError error_outside(drivers::RegisterBus& bus, int unit) {
  const auto outside = bus.read(unit, {drivers::Table::holding_register, 5000, 2}, std::chrono::milliseconds{1000});
  return outside ? drivers::BusError{drivers::BusFault::refused_locally, -1, "it was answered"} : outside.error();
}

/// Exchanges each kind of request with a server that somebody else wrote, and compares what comes back.
inline void expect_agreement(drivers::RegisterBus& bus, int unit) {
  using namespace drivers;
  constexpr std::chrono::milliseconds timeout{1000};
  const auto expect_span = [&](Span span, std::uint16_t (*value_at)(int)) {
    SCOPED_TRACE(testing::Message() << span.count << " from " << span.address << " of table "
                                    << static_cast<int>(span.table));
    const auto words = bus.read(unit, span, timeout);
    ASSERT_TRUE(words) << words.error().detail;
    ASSERT_EQ(words->size(), span.count);
    for (std::size_t i = 0; i < words->size(); ++i)
      ASSERT_EQ((*words)[i], value_at(span.address + static_cast<int>(i))) << i;
  };
  for (const auto count : std::initializer_list<std::uint16_t>{1, 2, 7, 8, 9, 16, 125}) {
    expect_span({Table::holding_register, 3, count}, holding_at);
    expect_span({Table::input_register, 40, count}, input_at);
    expect_span({Table::coil, 5, count}, coil_at);
    expect_span({Table::discrete_input, 17, count}, discrete_at);
  }
  const auto expect_written = [](const tl::expected<void, BusError>& written) {
    ASSERT_TRUE(written) << written.error().detail;
  };
  for (const bool on : {true, false, true}) {
    expect_written(bus.write_coil(unit, 64, on, timeout));
    expect_span(
        {Table::coil, 64, 1}, on ? [](int) { return std::uint16_t{1}; } : [](int) { return std::uint16_t{0}; });
  }
  expect_written(bus.write_register(unit, 90, 0xABCD, timeout));
  expect_span({Table::holding_register, 90, 1}, [](int) { return std::uint16_t{0xABCD}; });
  expect_span({Table::holding_register, 91, 9}, holding_at);
  expect_written(bus.write_registers(unit, 92, {0x0102, 0xFFFE, 0}, timeout));
  expect_span({Table::holding_register, 92, 1}, [](int) { return std::uint16_t{0x0102}; });
  expect_span({Table::holding_register, 93, 1}, [](int) { return std::uint16_t{0xFFFE}; });
  expect_span({Table::holding_register, 94, 1}, [](int) { return std::uint16_t{0}; });
  expect_span({Table::holding_register, 95, 5}, holding_at);
}

} // namespace oxherd::drivers_test
