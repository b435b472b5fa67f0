#pragma once

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "compensation/units.hpp"
#include "config/problems.hpp"
#include "config/settings.hpp"

namespace oxherd::config {

/// One value that a profile delivers.
struct ProfilePoint {
  MeasuredPoint measured;
  drivers::Point point;
  compensation::Dimension dimension = compensation::Dimension::number; ///< of the value: a signal or a fraction
};

/// A reusable register map, read from profiles/NAME.toml.
struct Profile {
  std::string name;
  std::string description;
  std::vector<ProfilePoint> points;
  std::vector<drivers::StatusBits> status;
  std::vector<StatusMeaning> meanings; ///< of `status`, by index
  std::optional<int> gap_max;
  std::optional<int> length_max;
};

/// Reads one profile from text.
[[nodiscard]] std::optional<Profile> parse_profile(std::string_view name, std::string_view text, Problems& problems);

/// The profiles of some directories, each read once; the first directory that has a name wins.
class ProfileShelf {
public:
  explicit ProfileShelf(std::vector<std::filesystem::path> directories) : directories_{std::move(directories)} {}
  /// Null when there is no such profile, or when it has errors (see problems()).
  [[nodiscard]] const Profile* find(const std::string& name);
  [[nodiscard]] bool exists(const std::string& name) const;
  /// All names, sorted.
  [[nodiscard]] std::vector<std::string> names() const;
  /// What is wrong in the profiles read so far.
  [[nodiscard]] const std::vector<Problems>& problems() const { return problems_; }

private:
  [[nodiscard]] std::filesystem::path file_of(const std::string& name) const;

  std::vector<std::filesystem::path> directories_;
  std::map<std::string, std::optional<Profile>> read_;
  std::vector<Problems> problems_;
};

} // namespace oxherd::config
