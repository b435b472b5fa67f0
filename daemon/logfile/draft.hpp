#pragma once

#include <string>
#include <string_view>

#include <tl/expected.hpp>

#include "daemon/logfile/failure.hpp"

namespace oxherd::daemon::logfile {

/// A recipe to begin with for a logger file: what its first bytes show, each guess with its reason in a comment, and
/// what they cannot show (cell, calibration, zone, often the pressure) as comments to fill in. Nothing is made up: a
/// recipe that is still to be filled in is refused when it is loaded, and the problems name what is missing.
/// @param text  the first bytes of the file, without a byte order mark
/// @param file  its name, for the comments and the failure
/// @return Failure when there is no table in it
[[nodiscard]] tl::expected<std::string, Failure> draft_recipe(std::string_view text, const std::string& file);

/// The same for a file on the disk; "-" is standard input.
[[nodiscard]] tl::expected<std::string, Failure> draft_recipe_for(const std::string& file);

} // namespace oxherd::daemon::logfile
