#include "daemon/commission/guess.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "daemon/commission/guess_points.hpp"

namespace oxherd::daemon::commission {
namespace {

using drivers::ByteOrder;
using drivers::Encoding;

constexpr double worth_showing = 2.5; ///< points below which a reading is no guess at all
constexpr double cost_of_one = 2.4;   ///< of each reading in a layout: two thin guesses must not beat one good one
constexpr double weak_below = 3.5;
constexpr double near = 2.0;                ///< a rival within these points makes a guess ambiguous: a factor of four
constexpr double near_in_other_order = 4.0; ///< the same, when it reads the same words in another byte order
constexpr double worth_naming = 4.0;        ///< a rival farther behind is not shown
constexpr std::size_t rivals_max = 4;

int end_of(const Guess& guess) { return guess.address + drivers::words_of(guess.encoding); }

bool overlap(const Guess& a, const Guess& b) {
  return a.table == b.table && a.address < end_of(b) && b.address < end_of(a);
}

/// 97.20 kPa and 972.0 hPa are one reading.
bool same_meaning(const Guess& a, const Guess& b) {
  return a.kind->measurand == b.kind->measurand && std::abs(si_of(a) - si_of(b)) <= 1e-6 * std::abs(si_of(a)) &&
         unit_of(*a.kind).dimension == unit_of(*b.kind).dimension;
}

/// Readings that do not overlap.
struct Layout {
  double points = 0.0;
  std::vector<const Guess*> chosen;
};

/// The layout with the most points, its two-word readings all in this order: one device has one. In the order of their
/// ends, the best layout up to each reading follows from the best ones before it.
Layout best_layout(const std::vector<Guess>& guesses, ByteOrder order) {
  std::vector<const Guess*> usable;
  for (const auto& guess : guesses)
    if (guess.points >= worth_showing && (drivers::words_of(guess.encoding) == 1 || guess.order == order))
      usable.push_back(&guess);
  std::ranges::stable_sort(usable, {}, [](const Guess* g) { return std::pair{g->table, end_of(*g)}; });
  std::vector<Layout> best(usable.size() + 1);
  for (std::size_t i = 0; i < usable.size(); ++i) {
    // The last of those that end before this one begins.
    std::size_t before = i;
    while (before > 0 && overlap(*usable[before - 1], *usable[i])) --before;
    // Equal ends stand side by side, so everything before `before` is clear of this one, or of another table.
    Layout with = best[before];
    with.points += usable[i]->points - cost_of_one;
    with.chosen.push_back(usable[i]);
    best[i + 1] = with.points > best[i].points ? std::move(with) : best[i];
  }
  return best.back();
}

Finding finding_of(const Guess& best, const std::vector<Guess>& guesses) {
  Finding finding{best, {}, Certainty::likely};
  for (const auto& other : guesses) {
    if (!overlap(best, other) || same_meaning(best, other) || other.points < best.points - worth_naming) continue;
    const auto known = std::ranges::find_if(finding.rivals, [&](const Guess& r) { return same_meaning(r, other); });
    if (known == finding.rivals.end())
      finding.rivals.push_back(other);
    else if (known->points < other.points)
      *known = other;
  }
  std::ranges::stable_sort(finding.rivals, std::ranges::greater{}, &Guess::points);
  if (finding.rivals.size() > rivals_max) finding.rivals.resize(rivals_max);
  const bool contested = std::ranges::any_of(finding.rivals, [&](const Guess& rival) {
    const bool shuffled = rival.encoding == best.encoding && rival.order != best.order;
    return rival.points >= best.points - (shuffled ? near_in_other_order : near);
  });
  if (contested)
    finding.certainty = Certainty::ambiguous;
  else if (best.points < weak_below)
    finding.certainty = Certainty::weak;
  return finding;
}

} // namespace

std::string_view name_of(Certainty certainty) {
  switch (certainty) {
  case Certainty::likely: return "likely";
  case Certainty::ambiguous: return "ambiguous";
  case Certainty::weak: return "weak";
  }
  return "?";
}

std::vector<Finding> guess_values(const std::vector<SampledRun>& runs, const Hints& hints) {
  std::vector<Guess> guesses;
  for (const auto& run : runs)
    for (auto& guess : plausible_readings(run, hints)) guesses.push_back(std::move(guess));
  judge_neighbours(guesses);
  Layout layout;
  for (const auto order : {ByteOrder::abcd, ByteOrder::cdab, ByteOrder::badc, ByteOrder::dcba}) {
    auto one = best_layout(guesses, order);
    if (one.points > layout.points) layout = std::move(one);
  }
  std::vector<Finding> findings;
  for (const Guess* best : layout.chosen) findings.push_back(finding_of(*best, guesses));
  return findings;
}

drivers::Point point_of(const Guess& guess) {
  const auto unit = unit_of(*guess.kind);
  drivers::Point point;
  point.name = config::name_of(guess.kind->measurand);
  point.table = guess.table;
  point.address = guess.address;
  point.encoding = guess.encoding;
  point.order = guess.order;
  point.scale = guess.scale;
  point.si_scale = unit.scale;
  point.si_offset = unit.offset;
  return point;
}

double si_of(const Guess& guess) { return compensation::to_si(unit_of(*guess.kind), guess.value); }

std::string_view type_word(Encoding encoding) {
  switch (encoding) {
  case Encoding::bit: return "bit";
  case Encoding::int16: return "int16";
  case Encoding::uint16: return "uint16";
  case Encoding::int32: return "int32";
  case Encoding::uint32: return "uint32";
  case Encoding::float32: return "float32";
  case Encoding::float64: return "float64";
  }
  return "?";
}

std::string_view order_word(ByteOrder order) {
  constexpr std::array words{"ABCD", "CDAB", "BADC", "DCBA"};
  return words.at(static_cast<std::size_t>(order));
}

std::string_view order_in_words(ByteOrder order) {
  constexpr std::array words{"high word first", "low word first", "high word first, bytes swapped",
                             "low word first, bytes swapped"};
  return words.at(static_cast<std::size_t>(order));
}

std::string_view table_word(drivers::Table table) {
  constexpr std::array words{"coil", "discrete", "input", "holding"};
  return words.at(static_cast<std::size_t>(table));
}

} // namespace oxherd::daemon::commission
