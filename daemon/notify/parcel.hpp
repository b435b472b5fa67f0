#pragma once

#include <cstdint>
#include <string>

#include "daemon/reading_basis.hpp"

namespace oxherd::daemon::notify {

/// One message on its way by one route, in the form that the route carries. It stays the same over all attempts.
struct Parcel {
  std::int64_t key = 0; ///< in the archive
  std::string id;       ///< of the message
  std::int64_t number = 0;
  std::string kind, route, contact;
  std::string address; ///< e-mail address of the receiver
  std::string brief, payload;
  bool urgent = false;
  WallTime created;
  unsigned tries = 0;
  std::string trouble; ///< of the last attempt
};

} // namespace oxherd::daemon::notify
