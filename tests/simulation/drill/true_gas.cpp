#include "tests/simulation/drill/true_gas.hpp"

#include <array>
#include <cmath>

namespace oxherd::drill {
namespace {

constexpr double outdoor_carbon_dioxide = 420e-6;
/// Who comes in by the door leaves it open for so long.
constexpr Monotonic coming_in{8000};

} // namespace

void TrueGas::advance_to(double t_s, bool flows, double air_per_s) {
  const double passed_s = t_s - now_s_;
  if (passed_s <= 0.0) return;
  now_s_ = t_s;
  if (plan_.gas.kind != Gas::carbon_dioxide) return;
  const double settles_at = outdoor_carbon_dioxide + (flows ? plan_.gas.carbon_dioxide_per_s / air_per_s : 0.0);
  carbon_dioxide_ = settles_at + (carbon_dioxide_ - settles_at) * std::exp(-air_per_s * passed_s);
}

std::optional<std::size_t> input_befallen(const RoomPlan& plan, const Happening& h) {
  if (h.kind != Kind::contact_lies && h.kind != Kind::contact_silent) return std::nullopt;
  std::array<std::size_t, 3> all{};
  std::size_t count = 0;
  for (const auto& at : {plan.door_at(), plan.people_at(), plan.carbon_dioxide_at()})
    if (at) all.at(count++) = *at;
  if (count == 0) return std::nullopt;
  return all.at(static_cast<std::size_t>(h.size * static_cast<double>(count)));
}

Lie lie_of(const Happening& h) {
  if (h.kind != Kind::contact_lies) return Lie::none;
  return std::array{Lie::reassures, Lie::alarms, Lie::sticks}.at(h.salt % 3);
}

bool opens_door(const Happening& h, Monotonic now) {
  if (h.kind == Kind::airing || h.kind == Kind::door_open) return true;
  // Some come in by a hatch that nobody thought of, or hid in there.
  return h.kind == Kind::people_in && h.size < 0.7 && now < h.at + coming_in;
}

double air_by_doors_per_s(std::span<const Happening* const> active, std::size_t room) {
  double air_per_s = 0.0;
  for (const auto* h : active)
    if (h->room == room && (h->kind == Kind::airing || h->kind == Kind::door_open))
      air_per_s += (5.0 + 40.0 * h->size) / 3600.0;
  return air_per_s;
}

} // namespace oxherd::drill
