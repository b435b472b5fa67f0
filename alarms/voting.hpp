#pragma once

#include <optional>
#include <string_view>

namespace oxherd::alarms {

/// M-out-of-N voting between the channels of one quantity in one room.
enum class Scheme { one_of_one, one_of_two, two_of_two, two_of_three };

inline constexpr int channels_max = 3; ///< of any scheme
[[nodiscard]] int channels_of(Scheme scheme);
[[nodiscard]] std::string_view name_of(Scheme scheme); ///< "1oo1", "1oo2", "2oo2", "2oo3"
[[nodiscard]] std::optional<Scheme> scheme_named(std::string_view name);

/// How many channels vote how, one question at a time. Together they are the channels of the scheme.
struct Ballot {
  int yes = 0;
  int no = 0;
  int faulted = 0;
};

/// `undecided`: no channel is left to decide (1oo1 faulted); the last decision is held.
enum class Verdict { no, yes, undecided };

/// The voted decision with the degraded modes of each scheme:
/// 1oo1 faulted: undecided. 1oo2 and 2oo2 with one faulted: 1oo1 on the other; both faulted: yes (trip).
/// 2oo3: a faulted channel counts as a yes vote at once, so 1oo2 of the two left, and yes with two faulted.
[[nodiscard]] Verdict vote(Scheme scheme, Ballot ballot);

/// Whether enough channels are good: at least one (1oo1, 1oo2, 2oo2), two (2oo3).
[[nodiscard]] bool is_monitored(Scheme scheme, int faulted);
/// Whether any channel is faulted although the vote goes on.
[[nodiscard]] bool is_degraded(Scheme scheme, int faulted);

} // namespace oxherd::alarms
