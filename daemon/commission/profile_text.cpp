#include "daemon/commission/profile_text.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

namespace oxherd::daemon::commission {
namespace {

bool is_number_of_two_words(const Guess& guess) { return drivers::words_of(guess.encoding) > 1; }

/// As many decimals as the scale has; floating point to four significant digits after a leading one.
std::string number_text(const Guess& guess) {
  if (guess.encoding == drivers::Encoding::float32) return fmt::format("{:.5g}", guess.value);
  return fmt::format("{:.{}f}", guess.value, std::max(0, static_cast<int>(std::lround(-std::log10(guess.scale)))));
}

std::string point_text(const Finding& finding) {
  const Guess& guess = finding.best;
  std::string out =
      fmt::format("\n# {}: {} read as {} was {}.\n# {}.\n", name_of(finding.certainty), words_in_hex(guess.words),
                  reading_in_words(guess), value_in_words(guess), guess.reason);
  for (const auto& rival : finding.rivals)
    out += fmt::format("# It might also be {} ({} as {}).\n", value_in_words(rival), place_in_words(rival),
                       reading_in_words(rival));
  out +=
      fmt::format("[point.{}]\ntable = \"{}\"\naddress = {}\ntype = \"{}\"\n", config::name_of(guess.kind->measurand),
                  table_word(guess.table), guess.address, type_word(guess.encoding));
  if (is_number_of_two_words(guess)) out += fmt::format("order = \"{}\"\n", order_word(guess.order));
  if (guess.scale != 1.0) out += fmt::format("scale = {:g}\n", guess.scale);
  const std::string_view unit = guess.kind->unit;
  return out + fmt::format("unit = \"{}\"\n", unit);
}

bool reads_the_same(const config::ProfilePoint& point, const Finding& finding) {
  const auto guessed = point_of(finding.best);
  const auto& given = point.point;
  const bool order_counts = is_number_of_two_words(finding.best);
  const double si_per_number = given.scale * given.si_scale;
  // 211 as int16 and as uint16 are one reading until a sign shows, which the profile knows better.
  return point.measured.measurand == finding.best.kind->measurand && given.table == guessed.table &&
         given.address == guessed.address && drivers::words_of(given.encoding) == drivers::words_of(guessed.encoding) &&
         (given.encoding == drivers::Encoding::float32) == (guessed.encoding == drivers::Encoding::float32) &&
         (!order_counts || given.order == guessed.order) &&
         std::abs(si_per_number - guessed.scale * guessed.si_scale) <= 1e-9 * std::abs(si_per_number) &&
         point.dimension == unit_of(*finding.best.kind).dimension;
}

} // namespace

std::string words_in_hex(const std::vector<std::uint16_t>& words) {
  std::string out;
  for (const auto word : words) out += fmt::format("{}0x{:04X}", out.empty() ? "" : " ", word);
  return out;
}

std::string place_in_words(const Guess& guess) {
  if (!is_number_of_two_words(guess)) return fmt::format("{} {}", table_word(guess.table), guess.address);
  return fmt::format("{} {}-{}", table_word(guess.table), guess.address, guess.address + 1);
}

std::string reading_in_words(const Guess& guess) {
  std::string out{type_word(guess.encoding)};
  if (guess.scale != 1.0) out += fmt::format(" x {:g}", guess.scale);
  if (is_number_of_two_words(guess)) out += fmt::format(", {}", order_in_words(guess.order));
  return out;
}

std::string value_in_words(const Guess& guess) {
  return fmt::format("{} {} -> {}", number_text(guess), guess.kind->unit, config::name_of(guess.kind->measurand));
}

std::vector<Finding> one_for_each(const std::vector<Finding>& findings) {
  std::vector<Finding> out;
  for (const auto& finding : findings) {
    const auto same = std::ranges::find_if(
        out, [&](const Finding& f) { return f.best.kind->measurand == finding.best.kind->measurand; });
    if (same == out.end())
      out.push_back(finding);
    else if (same->best.points < finding.best.points)
      *same = finding;
  }
  return out;
}

std::string profile_text(const std::vector<Finding>& findings, const ProfileOrigin& origin) {
  const auto chosen = one_for_each(findings);
  std::string names;
  for (const auto& finding : chosen)
    names += fmt::format("{}{}", names.empty() ? "" : ", ", config::name_of(finding.best.kind->measurand));
  std::string out =
      fmt::format("# Guessed on {} from what unit {} of {} answered. Every line is a guess from how "
                  "plausible the values are:\n# confirm each in the device's own manual, and compare the "
                  "readings with an instrument you trust, before anything\n# rests on them. A wrong scale "
                  "or word order makes wrong readings, and wrong or missing alarms.\n",
                  origin.day, origin.unit, origin.bus);
  out += fmt::format("description = \"guessed, to be confirmed: {}\"\n", names);
  for (const auto& finding : chosen) out += point_text(finding);
  std::string others;
  for (const auto& finding : findings) {
    const bool taken = std::ranges::any_of(chosen, [&](const Finding& f) {
      return f.best.table == finding.best.table && f.best.address == finding.best.address;
    });
    if (!taken) others += fmt::format("# {}: {}\n", place_in_words(finding.best), value_in_words(finding.best));
  }
  if (!others.empty())
    out += "\n# Left out, because a profile has one point for each measurand and these were less plausible:\n" + others;
  return out +
         "\n# What only the manual tells: bad_values (the device's \"no value\"), status bits ([[status]]), and the "
         "accuracy\n# (uncertainty = ..., standard uncertainty; without it a proposal of the project holds).\n";
}

std::optional<std::string> profile_that_fits(config::ProfileShelf& shelf, const std::vector<Finding>& findings) {
  const auto chosen = one_for_each(findings);
  std::optional<std::string> best;
  std::size_t most = 0;
  for (const auto& name : shelf.names()) {
    const auto* profile = shelf.find(name);
    if (profile == nullptr) continue;
    const auto known = static_cast<std::size_t>(std::ranges::count_if(profile->points, [&](const auto& point) {
      return std::ranges::any_of(chosen, [&](const Finding& f) { return reads_the_same(point, f); });
    }));
    if (known == profile->points.size() && known > most) {
      best = name;
      most = known;
    }
  }
  return best;
}

} // namespace oxherd::daemon::commission
