#pragma once

#include <cstdlib>
#include <random>
#include <string>

namespace oxherd::control {

/// The seed of random tests that draw by themselves: OXHERD_SEED, or a fresh one. Put it into SCOPED_TRACE.
inline unsigned long long drawn_seed() {
  const char* given = std::getenv("OXHERD_SEED");
  return given ? std::stoull(given) : std::random_device{}();
}

} // namespace oxherd::control
