#include "daemon/outputs/latency.hpp"

#include <algorithm>
#include <cmath>

namespace oxherd::daemon {

using std::chrono::microseconds;

void Latency::add(microseconds took) {
  const double us = std::max(1.0, static_cast<double>(took.count()));
  // Class n holds what is above 2^((n-1)/8) us, up to 2^(n/8) us.
  const auto n = static_cast<std::size_t>(std::ceil(std::log2(us) * per_doubling));
  ++counts_[std::min(n, counts_.size() - 1)];
  for (std::size_t i = 0; i < bounds.size(); ++i)
    if (took <= bounds[i]) ++within_[i];
  ++count_;
  total_ += took;
  longest_ = std::max(longest_, took);
}

microseconds Latency::quantile(double q) const {
  const auto needed =
      std::max<std::uint64_t>(1, static_cast<std::uint64_t>(std::ceil(q * static_cast<double>(count_))));
  std::uint64_t seen = 0;
  for (std::size_t n = 0; n < counts_.size(); ++n) {
    seen += counts_[n];
    if (seen < needed) continue;
    const double upper = std::ceil(std::exp2(static_cast<double>(n) / per_doubling));
    return std::min(longest_, microseconds{static_cast<microseconds::rep>(upper)});
  }
  return microseconds{0};
}

} // namespace oxherd::daemon
