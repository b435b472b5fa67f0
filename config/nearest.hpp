#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace oxherd::config {

/// Edits (insert, delete, replace, swap two neighbours) that make one word of the other.
/// @source optimal string alignment form of the Damerau-Levenshtein distance, common practice
[[nodiscard]] int edit_distance(std::string_view a, std::string_view b);

/// The known word that was probably meant: the nearest one, if it lies within a third of the word's length.
[[nodiscard]] std::optional<std::string> nearest(std::string_view word, const std::vector<std::string>& known);

/// The known words, the nearest first, written for a sentence: `"a", "b" or "c"`.
[[nodiscard]] std::string listed_nearest_first(std::string_view word, std::vector<std::string> known);
/// The words as they come, written for a sentence: `"a", "b" or "c"`.
[[nodiscard]] std::string listed(const std::vector<std::string>& words);

} // namespace oxherd::config
