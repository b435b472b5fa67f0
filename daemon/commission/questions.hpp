#pragma once

#include <filesystem>
#include <functional>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "config/profile.hpp"

namespace oxherd::daemon::commission {

/// Answers by the key of their question, as they were typed.
using Answers = std::map<std::string, std::string, std::less<>>;

/// A register map that a question may offer.
struct OfferedProfile {
  std::string name;
  bool own = false; ///< from profiles/ beside the settings file: somebody made it for this site
  std::vector<config::Measurand> measurands;
  bool gives_signal = false; ///< its oxygen is a cell's signal, so that a cell must be described
};

/// What the machine itself tells.
struct Surroundings {
  std::string host_name;
  std::string time_zone; ///< IANA name, or empty
  std::vector<OfferedProfile> profiles;
  std::vector<std::filesystem::path> profile_dirs; ///< where the settings file will find them
};

/// What an empty answer means, and why.
struct Default {
  std::optional<std::string> text{}; ///< none: it must be answered
  std::string origin{};              ///< "this machine's name"
};

/// One question of `oxherd init`. The list is data: a question is one row, and its line in settings_text.cpp.
struct Question {
  std::string_view key;     ///< in a file of answers
  std::string_view asks;    ///< what is asked, as a phrase
  std::string_view example; ///< an answer that is accepted; stands in until there is one
  std::string_view place;   ///< where the settings file judges it, "{room}" standing for the room's name; may be empty
  Default (*otherwise)(const Answers&, const Surroundings&);
  bool (*is_asked)(const Answers&); ///< null: always
  /// A sentence against an answer that the settings file could not judge by itself; null: it can.
  std::optional<std::string> (*why_not)(const std::string& answer, const Surroundings&);
};

/// All of them, in the order in which they are asked.
[[nodiscard]] std::span<const Question> questions();

/// The next question that is to be asked; null when all is answered.
[[nodiscard]] const Question* next_question(const Answers& answers);

/// Why this answer cannot be taken, as a sentence: judged by the question and by the reader of the settings file.
[[nodiscard]] std::optional<std::string> why_not(const Question& question, const std::string& answer,
                                                 const Answers& before, const Surroundings& around);

/// The answers with examples where nothing is answered yet, so that they make a whole settings file.
[[nodiscard]] Answers completed(Answers answers, const Surroundings& around);

/// A file of answers to fill in: every question with its default and where that comes from.
[[nodiscard]] std::string answers_form(const Surroundings& around);

// What follows from answers; for questions and for the text.
[[nodiscard]] std::string answer_to(const Answers& answers, std::string_view key); ///< empty when there is none
[[nodiscard]] bool is_none(const std::string& answer); ///< "none", "unknown", "later", "off"
[[nodiscard]] bool is_serial(const Answers& answers);
/// Whether the oxygen sensor gives a signal. Kept among the answers when the profile is chosen, so that questions need
/// no profiles.
inline constexpr std::string_view signal_key = "(gives a signal)";
[[nodiscard]] bool gives_signal(const Answers& answers);
/// Takes an answer over, with what follows from it.
void take(const Question& question, const std::string& answer, const Surroundings& around, Answers& answers);

} // namespace oxherd::daemon::commission
