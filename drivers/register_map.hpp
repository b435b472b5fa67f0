#pragma once

#include <cstdint>
#include <cstdlib>
#include <optional>
#include <string>
#include <vector>

namespace oxherd::drivers {

/// The four tables of the Modbus data model (Modbus Application Protocol V1.1b3, 4.3).
enum class Table { coil, discrete_input, input_register, holding_register };

/// How a number lies in registers. `bit` is one coil or discrete input.
enum class Encoding { bit, int16, uint16, int32, uint32, float32, float64 };

/// Order of the bytes of a value as they come over the wire, most significant byte A first: ABCD is big-endian
/// throughout, CDAB swaps words, BADC swaps the bytes inside each word, DCBA is little-endian throughout.
/// For float64 the same rule runs over four words; for one word only BADC and DCBA swap.
enum class ByteOrder { abcd, cdab, badc, dcba };

/// Registers (or bits) that a value takes.
[[nodiscard]] constexpr int words_of(Encoding encoding) {
  switch (encoding) {
  case Encoding::bit:
  case Encoding::int16:
  case Encoding::uint16: return 1;
  case Encoding::int32:
  case Encoding::uint32:
  case Encoding::float32: return 2;
  case Encoding::float64: return 4;
  }
  std::abort(); // not one of the encodings: memory is corrupt, stop loudly
}

/// One value of a device. Protocol addresses are 0-based.
struct Point {
  std::string name{}; ///< as the profile calls it
  Table table = Table::holding_register;
  std::uint16_t address = 0;
  Encoding encoding = Encoding::uint16;
  ByteOrder order = ByteOrder::abcd;
  double scale = 1.0; ///< decoded number * scale + offset is in the device's unit
  double offset = 0.0;
  double si_scale = 1.0; ///< device's unit to SI: si = value * si_scale + si_offset
  double si_offset = 0.0;
  std::vector<double> bad_values{}; ///< decoded numbers (before scale) by which the device says "no value"
  /// Below or above, the input is broken: open circuit, wrong unit, wrong word order.
  std::optional<double> lowest_si{};
  std::optional<double> highest_si{};
};

/// Bits of a status register that say something about all values of a device. The meaning belongs to the caller, by
/// index.
struct StatusBits {
  Table table = Table::holding_register;
  std::uint16_t address = 0;
  std::uint16_t mask = 0; ///< set when (register & mask) != 0, or == 0 if `active_low`
  bool active_low = false;
};

/// How neighbouring registers are joined into one request.
struct ReadLimits {
  int gap_max = 8;      ///< unused registers that may be read along between two points
  int length_max = 100; ///< registers in one request; the protocol's own limit is 125
};

/// A device's register map: what is read from it at each poll.
struct RegisterMap {
  std::vector<Point> points{};
  std::vector<StatusBits> status{};
};

} // namespace oxherd::drivers
