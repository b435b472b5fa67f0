#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <tl/expected.hpp>

#include "daemon/whole_number.hpp"

namespace oxherd::daemon::cli {

/// One option of a command, as `--help` lists it.
struct Option {
  std::string name;                    ///< "--signal"
  std::string value;                   ///< what it takes ("VOLTAGE"); empty: a flag
  std::string help;                    ///< one line
  std::string example;                 ///< a value to copy, named when the value is missing
  bool listed = true;                  ///< false: `--help` describes it together with others
  std::vector<std::string> words = {}; ///< the values there are, for shells to complete; empty: too many to list
};

/// What stands on a command line after the command's name, sorted out.
class Arguments {
public:
  [[nodiscard]] bool given(std::string_view name) const { return values_.contains(name); }
  [[nodiscard]] std::optional<std::string> value(std::string_view name) const;
  [[nodiscard]] std::string value_or(std::string_view name, std::string_view otherwise) const;
  [[nodiscard]] const std::vector<std::string>& positional() const { return positional_; }

  /// Used by parse_arguments and by tests.
  void set(std::string name, std::string value) { values_.insert_or_assign(std::move(name), std::move(value)); }
  void add_positional(std::string word) { positional_.push_back(std::move(word)); }

private:
  std::map<std::string, std::string, std::less<>> values_;
  std::vector<std::string> positional_;
};

/// Sorts out the words of one command. `positional_word` is what positional arguments are called in messages
/// ("ROOM/ALARM"), empty when the command takes none. The error is a sentence that names the option and, for a mistyped
/// one, the nearest.
[[nodiscard]] tl::expected<Arguments, std::string> parse_arguments(const std::vector<Option>& options,
                                                                   std::string_view positional_word,
                                                                   const std::vector<std::string>& words);

/// "cryo-annexe/cell-a": a room and what is in it.
struct InRoom {
  std::string room, name;
};
/// The two sides of the first slash; empty when either is.
[[nodiscard]] std::optional<InRoom> in_room(std::string_view word);

} // namespace oxherd::daemon::cli
