#include "daemon/commission/guess_points.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <map>
#include <set>
#include <span>

#include <fmt/core.h>

#include "drivers/decode.hpp"

namespace oxherd::daemon::commission {
namespace {

using config::Measurand;
using drivers::ByteOrder;
using drivers::Encoding;

constexpr std::array all_orders{ByteOrder::abcd, ByteOrder::cdab, ByteOrder::badc, ByteOrder::dcba};
constexpr std::array all_encodings{Encoding::int16, Encoding::uint16, Encoding::int32, Encoding::uint32,
                                   Encoding::float32};

// Points, in the sense of GuessKind. Proposals of the project.
constexpr double likely_points = 2.5;
constexpr double possible_points = 0.5;
constexpr double float_points = 2.0;       // few patterns of 32 bits are a number of ordinary size
constexpr double alive_float_points = 3.0; // fewer still go on being one
constexpr double alive_points = 2.0;
constexpr double still_float_points = -0.5;
constexpr double small_points = -1.5; // below 20 a whole number may be a mode, a count, a version
constexpr double tiny_points = -3.0;  // half of all floating-point patterns lie near zero
constexpr double round_points = -1.5;
constexpr double long_points = -1.0; // of 32-bit whole numbers, which are rarer
constexpr double shuffled_points = -3.0;
constexpr double neighbour_points = 1.5; // in the usual order: temperature, humidity, then pressure or CO2
constexpr double turned_neighbour_points = 1.0;
constexpr double alone_points = -2.0;

double points_of(ByteOrder order) {
  switch (order) { // common practice: the first is that of the specification, the second the commonest other
  case ByteOrder::abcd: return 0.0;
  case ByteOrder::cdab: return -0.5;
  case ByteOrder::badc: return -1.5;
  case ByteOrder::dcba: return -1.0;
  }
  return 0.0;
}

/// One type at one place: its bare number in every round.
struct Raw {
  Encoding encoding;
  ByteOrder order;
  std::vector<double> numbers;
};

bool is_float(Encoding encoding) { return encoding == Encoding::float32; }

Raw raw_at(const SampledRun& run, std::size_t offset, Encoding encoding, ByteOrder order) {
  Raw raw{encoding, order, {}};
  const auto length = static_cast<std::size_t>(drivers::words_of(encoding));
  for (const auto& round : run.rounds)
    raw.numbers.push_back(drivers::decode_number(encoding, order, std::span{round}.subspan(offset, length)));
  return raw;
}

/// Zero, NaN, numbers of no instrument, and the words by which devices say "no value".
bool says_nothing(const Raw& raw) {
  return std::ranges::any_of(raw.numbers, [&](double number) {
    if (is_float(raw.encoding)) return !(std::abs(number) >= 1e-3 && std::abs(number) < 1e6);
    return number == 0.0 || number == -32768.0 || number == 65535.0 || number == 4294967295.0 ||
           number == -2147483648.0;
  });
}

/// What a device writes in place of a number, in whichever order its bytes come.
bool is_no_number(const SampledRun& run, std::size_t offset) {
  constexpr std::array<std::uint32_t, 4> patterns{0x7FC00000, 0xFFC00000, 0x7FFFFFFF, 0xFFFFFFFF};
  return std::ranges::any_of(run.rounds, [&](const auto& round) {
    return std::ranges::any_of(all_orders, [&](ByteOrder order) {
      const auto words = std::span{round}.subspan(offset, 2);
      const auto bits = static_cast<std::uint32_t>(drivers::decode_number(Encoding::uint32, order, words));
      return std::ranges::find(patterns, bits) != patterns.end();
    });
  });
}

/// Largest step between two rounds.
double largest_step(const std::vector<double>& numbers) {
  double largest = 0.0;
  for (std::size_t i = 1; i < numbers.size(); ++i) largest = std::max(largest, std::abs(numbers[i] - numbers[i - 1]));
  return largest;
}

/// In a number the small bits change at least as much as those above them. Read in a wrong order they do not.
bool bits_are_shuffled(const Raw& raw) {
  if (!is_float(raw.encoding)) return false;
  std::set<unsigned> low, middle;
  for (const double number : raw.numbers) {
    const auto bits = std::bit_cast<std::uint32_t>(static_cast<float>(number));
    low.insert(bits & 0xFFu);
    middle.insert(bits >> 8U & 0xFFu);
  }
  return low.size() + 1 < middle.size(); // one pair of equal bytes in a handful of rounds is chance
}

void say(Guess& guess, double points, std::string_view why) {
  guess.points += points;
  if (why.empty()) return;
  if (!guess.reason.empty()) guess.reason += "; ";
  guess.reason += why;
}

/// The kind with the pressure of the place, where that is known: 3 % is four times the scatter of weather.
GuessKind narrowed(GuessKind kind, const Hints& hints) {
  if (kind.measurand != Measurand::pressure || !hints.standard_pressure) return kind;
  const double normal = compensation::from_si(unit_of(kind), hints.standard_pressure->si());
  kind.typical = {normal * 0.97, normal * 1.03};
  kind.typical_points = 5;
  kind.typical_because = "this elevation has this";
  kind.likely = kind.possible = {normal * 0.94, normal * 1.06};
  return kind;
}

void judge_span(Guess& guess, const GuessKind& kind) {
  const NumberSpan seen{guess.least, guess.greatest};
  const auto within = [&](const NumberSpan& span) { return span.holds(seen.low) && span.holds(seen.high); };
  if (within(kind.typical)) return say(guess, kind.typical_points, kind.typical_because);
  if (within(kind.likely)) return say(guess, likely_points, "possible in a room");
  say(guess, possible_points, "far from what a room usually has");
}

void judge_motion(Guess& guess, const Raw& raw) {
  if (raw.numbers.size() < 2) return;
  const bool moves = largest_step(raw.numbers) > 0.0;
  if (moves) {
    say(guess, is_float(raw.encoding) ? alive_float_points : alive_points, "it moves a little, as a measurement does");
    if (bits_are_shuffled(raw)) say(guess, shuffled_points, "the bits that move are not its smallest");
  } else
    say(guess, is_float(raw.encoding) ? still_float_points : 0.0, "it stood still");
}

void judge_type(Guess& guess, const Raw& raw, double scale_points) {
  guess.points += scale_points + points_of(raw.order);
  if (is_float(raw.encoding)) {
    guess.points += float_points;
    const bool tiny = guess.kind->possible.high > 1.0 && std::abs(guess.value) < 0.1;
    if (tiny) say(guess, tiny_points, "as close to zero as shuffled bytes are");
    return;
  }
  if (drivers::words_of(raw.encoding) == 2) guess.points += long_points;
  const double number = raw.numbers.back();
  if (std::abs(number) < 20.0) say(guess, small_points, "so small a number may be anything");
  const bool stands = raw.numbers.size() > 1 && largest_step(raw.numbers) == 0.0;
  if (stands && std::fmod(number, 50.0) == 0.0) say(guess, round_points, "a round number that stands may be a setting");
}

struct Place {
  const SampledRun& run;
  std::size_t offset;
};

std::optional<Guess> read_as(const Place& place, const Raw& raw, const GuessKind& as_listed, std::size_t scale,
                             const Hints& hints) {
  const bool whole = !is_float(raw.encoding);
  const double scale_points = whole ? as_listed.scale_points[scale] : 0.0;
  if (scale_points <= never || (whole && !as_listed.as_whole_number)) return std::nullopt;
  const auto kind = narrowed(as_listed, hints);
  Guess guess;
  guess.kind = &as_listed;
  guess.scale = whole ? scales[scale] : 1.0;
  const auto [least, greatest] = std::ranges::minmax(raw.numbers);
  guess.least = least * guess.scale;
  guess.greatest = greatest * guess.scale;
  guess.value = raw.numbers.back() * guess.scale;
  if (!kind.possible.holds(guess.least) || !kind.possible.holds(guess.greatest)) return std::nullopt;
  const double step_max = std::max(kind.change_max_per_s * hints.period_s, whole ? guess.scale : 0.0);
  if (largest_step(raw.numbers) * guess.scale > step_max) return std::nullopt;
  guess.table = place.run.table;
  guess.address = static_cast<std::uint16_t>(place.run.first + place.offset);
  guess.encoding = raw.encoding;
  guess.order = raw.order;
  const auto words = std::span{place.run.rounds.back()}.subspan(
      place.offset, static_cast<std::size_t>(drivers::words_of(raw.encoding)));
  guess.words.assign(words.begin(), words.end());
  judge_span(guess, kind);
  judge_motion(guess, raw);
  judge_type(guess, raw, scale_points);
  return guess;
}

/// Signed and unsigned read alike unless a sign shows; only temperatures may need one.
bool is_double(const Raw& raw, const GuessKind& kind) {
  const bool is_signed = raw.encoding == Encoding::int16 || raw.encoding == Encoding::int32;
  return !is_float(raw.encoding) && is_signed != (kind.measurand == Measurand::temperature);
}

void add_readings(const Place& place, const Raw& raw, const Hints& hints, std::vector<Guess>& out) {
  if (says_nothing(raw)) return;
  for (const auto& kind : guess_kinds()) {
    const bool wanted =
        hints.expected.empty() || std::ranges::find(hints.expected, kind.measurand) != hints.expected.end();
    if (!wanted || is_double(raw, kind)) continue;
    for (std::size_t scale = 0; scale < (is_float(raw.encoding) ? 1 : scales.size()); ++scale)
      if (auto guess = read_as(place, raw, kind, scale, hints)) out.push_back(std::move(*guess));
  }
}

} // namespace

std::vector<Guess> plausible_readings(const SampledRun& run, const Hints& hints) {
  std::vector<Guess> out;
  if (run.rounds.empty()) return out;
  const std::size_t size = run.rounds.front().size();
  for (std::size_t offset = 0; offset < size; ++offset)
    for (const auto encoding : all_encodings) {
      const auto length = static_cast<std::size_t>(drivers::words_of(encoding));
      if (offset + length > size) continue;
      for (const auto order : all_orders) {
        if (length == 1 && order != ByteOrder::abcd) continue;
        if (length == 2 && is_no_number(run, offset)) continue;
        add_readings({run, offset}, raw_at(run, offset, encoding, order), hints, out);
      }
    }
  return out;
}

void judge_neighbours(std::vector<Guess>& guesses) {
  // Only readings that are plausible by themselves speak for their neighbours.
  constexpr double enough = 1.0;
  struct Pair {
    Measurand first, second;
    bool same_scale;
    double points;
  };
  constexpr std::array pairs{Pair{Measurand::temperature, Measurand::humidity, true, neighbour_points},
                             Pair{Measurand::humidity, Measurand::temperature, true, turned_neighbour_points},
                             Pair{Measurand::humidity, Measurand::pressure, false, neighbour_points},
                             Pair{Measurand::humidity, Measurand::carbon_dioxide, false, neighbour_points}};
  std::map<const Guess*, double> beside;
  const auto note = [&](const Guess& guess, double points) { beside[&guess] = std::max(beside[&guess], points); };
  for (const auto& a : guesses)
    for (const auto& b : guesses) {
      const bool adjoin = a.table == b.table && a.address + drivers::words_of(a.encoding) == b.address;
      const bool alike = drivers::words_of(a.encoding) == drivers::words_of(b.encoding) &&
                         is_float(a.encoding) == is_float(b.encoding) && a.order == b.order;
      if (!adjoin || !alike || a.points < enough || b.points < enough) continue;
      for (const auto& pair : pairs)
        if (a.kind->measurand == pair.first && b.kind->measurand == pair.second &&
            (!pair.same_scale || a.scale == b.scale)) {
          note(a, pair.points);
          note(b, pair.points);
        }
    }
  for (auto& guess : guesses) {
    if (const auto found = beside.find(&guess); found != beside.end())
      say(guess, found->second, "its neighbour fits it");
    else if (guess.kind->measurand == Measurand::humidity)
      say(guess, alone_points, "no temperature stands beside it");
  }
}

} // namespace oxherd::daemon::commission
