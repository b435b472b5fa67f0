// Files and columns that the daemon has written itself and reads after a restart, a crash or a hand's mending: each is
// refused with a sentence or read, and what was read is written to something that reads as the same.
#include <cstddef>
#include <cstdint>
#include <string_view>

#include "daemon/control/program_file.hpp"
#include "daemon/notify/state_json.hpp"
#include "daemon/store/basis_text.hpp"
#include "daemon/store/reasons_text.hpp"
#include "daemon/store/recorded_oxygen.hpp"

namespace {

using namespace oxherd::daemon;

constexpr Monotonic now{1'000'000};
constexpr WallTime wall{std::chrono::milliseconds{1'772'352'930'000}};

template <class Read> void demand_a_sentence(const Read& read) {
  if (!read && read.error().empty()) __builtin_trap();
}

void programs(std::string_view text) {
  const auto read = read_programs(text, now, wall);
  demand_a_sentence(read);
  if (!read) return;
  const auto written = programs_text(read->programs, now, wall);
  const auto again = read_programs(written, now, wall);
  if (!again || programs_text(again->programs, now, wall) != written) __builtin_trap();
}

void recorded(std::string_view text) {
  const auto read = recorded_from(text);
  demand_a_sentence(read);
  if (!read) return;
  const auto written = recorded_text(*read);
  const auto again = recorded_from(written);
  if (!again || recorded_text(*again) != written) __builtin_trap();
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text{reinterpret_cast<const char*>(data), size};
  programs(text);
  recorded(text);
  demand_a_sentence(notify::state_from_json(text, {now, wall}));
  demand_a_sentence(store::basis_from(text));
  demand_a_sentence(store::reasons_from(text));
  return 0;
}
