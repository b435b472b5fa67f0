#include "compensation/budget.hpp"

namespace oxherd::compensation {

double combined(const Contributions& all) {
  double squares = 0.0;
  for (const double part : all) squares += part * part;
  return std::sqrt(squares);
}

} // namespace oxherd::compensation
