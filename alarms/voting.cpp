#include "alarms/voting.hpp"

#include <array>
#include <cassert>
#include <cstdlib>

namespace oxherd::alarms {

namespace {
constexpr std::array all_schemes{Scheme::one_of_one, Scheme::one_of_two, Scheme::two_of_two, Scheme::two_of_three};
} // namespace

int channels_of(Scheme scheme) {
  switch (scheme) {
  case Scheme::one_of_one: return 1;
  case Scheme::one_of_two:
  case Scheme::two_of_two: return 2;
  case Scheme::two_of_three: return 3;
  }
  std::abort(); // not one of the schemes: memory is corrupt, stop loudly
}

std::string_view name_of(Scheme scheme) {
  switch (scheme) {
  case Scheme::one_of_one: return "1oo1";
  case Scheme::one_of_two: return "1oo2";
  case Scheme::two_of_two: return "2oo2";
  case Scheme::two_of_three: return "2oo3";
  }
  std::abort();
}

std::optional<Scheme> scheme_named(std::string_view name) {
  for (const Scheme scheme : all_schemes)
    if (name_of(scheme) == name) return scheme;
  return std::nullopt;
}

Verdict vote(Scheme scheme, Ballot ballot) {
  assert(ballot.yes >= 0 && ballot.no >= 0 && ballot.faulted >= 0);
  assert(ballot.yes + ballot.no + ballot.faulted == channels_of(scheme));
  const auto decided = [](bool yes) { return yes ? Verdict::yes : Verdict::no; };
  switch (scheme) {
  case Scheme::one_of_one: return ballot.faulted == 1 ? Verdict::undecided : decided(ballot.yes == 1);
  case Scheme::one_of_two: return decided(ballot.yes >= 1 || ballot.faulted == 2);
  case Scheme::two_of_two: // a faulted channel leaves the decision to the other one
    return decided(ballot.no == 0);
  case Scheme::two_of_three: return decided(ballot.yes + ballot.faulted >= 2);
  }
  std::abort();
}

bool is_monitored(Scheme scheme, int faulted) {
  const int good = channels_of(scheme) - faulted;
  return good >= (scheme == Scheme::two_of_three ? 2 : 1);
}

bool is_degraded(Scheme scheme, int faulted) { return faulted > 0 && is_monitored(scheme, faulted); }

} // namespace oxherd::alarms
