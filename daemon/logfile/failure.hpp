#pragma once

#include <string>

namespace oxherd::daemon::logfile {

/// Why a file could not be corrected, in words for a person; names the file and, where there is one, the line.
struct Failure {
  std::string what;
};

} // namespace oxherd::daemon::logfile
