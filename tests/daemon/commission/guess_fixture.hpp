#pragma once

#include <bit>
#include <cmath>
#include <cstdint>
#include <vector>

#include "daemon/commission/guess.hpp"

namespace oxherd::daemon::commission_test {

using drivers::ByteOrder;
using Words = std::vector<std::uint16_t>;

inline std::uint16_t swapped(std::uint16_t word) { return static_cast<std::uint16_t>(word << 8U | word >> 8U); }

/// A float32 as a device of that order has it in two registers.
inline Words words_of(double value, ByteOrder order) {
  const auto bits = std::bit_cast<std::uint32_t>(static_cast<float>(value));
  Words words{static_cast<std::uint16_t>(bits >> 16U), static_cast<std::uint16_t>(bits)};
  if (order == ByteOrder::cdab || order == ByteOrder::dcba) std::swap(words[0], words[1]);
  if (order == ByteOrder::badc || order == ByteOrder::dcba)
    for (auto& word : words) word = swapped(word);
  return words;
}

inline void append(Words& to, const Words& more) { to.insert(to.end(), more.begin(), more.end()); }

/// Input registers from 0 on that were read once for each of these.
inline std::vector<commission::SampledRun> input_registers(std::vector<Words> rounds) {
  return {{drivers::Table::input_register, 0, std::move(rounds)}};
}

/// The same words six times.
inline std::vector<commission::SampledRun> still(const Words& words) {
  return input_registers(std::vector<Words>(6, words));
}

} // namespace oxherd::daemon::commission_test
