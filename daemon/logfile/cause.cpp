#include "daemon/logfile/cause.hpp"

#include <array>
#include <string>

namespace oxherd::daemon::logfile {
namespace {

std::array<std::string, cause_count> all_texts() {
  std::array<std::string, cause_count> texts;
  constexpr std::array<std::string_view, trouble_count> troubles{
      " is missing", " is not a number", " is outside its span", " has no value near in time", " is assumed"};
  for (const auto quantity : all_quantities)
    for (std::size_t i = 0; i < trouble_count; ++i)
      texts.at(cause_of(quantity, static_cast<Trouble>(i))) = std::string{name_of(quantity)} + std::string{troubles[i]};
  texts[fewer_fields] = "fewer fields than other rows";
  texts[more_fields] = "more fields than other rows";
  texts[open_quote] = "quotes are not closed";
  texts[too_long] = "longer than any row of a logger";
  texts[time_unreadable] = "time is not understood";
  texts[no_reading] = "no reading follows from these values";
  texts[time_skipped] = "time that the clocks of its zone skip";
  texts[time_twice] = "time that comes twice and the rows do not tell which it is";
  texts[near_zero] = "signal near zero: dead cell or no oxygen";
  return texts;
}

} // namespace

std::string_view text_of(Cause cause) {
  static const std::array<std::string, cause_count> texts = all_texts();
  return texts.at(cause);
}

} // namespace oxherd::daemon::logfile
