#include "daemon/cli/completion.hpp"

#include <algorithm>
#include <array>
#include <cctype>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "config/table_reader.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

using nlohmann::json;
using Kind = Offer::Kind;

/// A word of the help's own language and what stands for it on a command line.
struct Form {
  std::string_view word;
  Kind kind;
  std::string_view names;
};
constexpr std::array forms{Form{"FILE", Kind::files, ""},
                           Form{"IN.csv", Kind::files, ""},
                           Form{"OUT.csv", Kind::files, ""},
                           Form{"DIR", Kind::folders, ""},
                           Form{"ROOM", Kind::names, "rooms"},
                           Form{"ROOM/ALARM", Kind::names, "room-alarms"},
                           Form{"ALARM", Kind::names, "alarms"},
                           Form{"SENSOR", Kind::names, "sensors"},
                           Form{"ROOM/SENSOR", Kind::names, "cells"},
                           Form{"OUTPUT", Kind::names, "outputs"}};

Offer offer_of(std::string_view word) {
  const auto* found = std::ranges::find(forms, word, &Form::word);
  if (found == forms.end()) return {};
  return {found->kind, {}, std::string{found->names}};
}

/// The words of a form: "[test | answer NUMBER]" has three.
std::vector<std::string> words_of_form(std::string_view form) {
  std::vector<std::string> out;
  while (!form.empty()) {
    const auto end = std::min(form.find_first_of("[]| "), form.size());
    auto word = form.substr(0, end);
    if (word.ends_with("...")) word.remove_suffix(3);
    if (!word.empty()) out.emplace_back(word);
    form.remove_prefix(std::min(end + 1, form.size()));
  }
  return out;
}

bool is_literal(const std::string& word) {
  return std::ranges::none_of(word, [](char c) { return std::isupper(static_cast<unsigned char>(c)) != 0; });
}

bool measures_oxygen(const json& sensor) {
  const auto& measures = list_of(sensor, "measures");
  return std::ranges::find(measures, json("oxygen")) != measures.end();
}

/// Both parts of "room/alarm" are names; nothing else may reach a shell.
bool is_name_or_path(std::string_view text) {
  const auto slash = text.find('/');
  if (slash == text.npos) return config::is_name(text);
  return config::is_name(text.substr(0, slash)) && config::is_name(text.substr(slash + 1));
}

std::vector<std::string> names_of_room(const json& room, std::string_view kind) {
  const auto name = text_of(room, "room");
  if (kind == "rooms") return {name};
  const bool of_alarms = kind == "alarms" || kind == "room-alarms";
  std::vector<std::string> out;
  for (const auto& one : list_of(room, of_alarms ? "alarms" : "sensors")) {
    if (kind == "cells" && !measures_oxygen(one)) continue;
    const auto part = text_of(one, of_alarms ? "alarm" : "sensor");
    out.push_back(kind == "room-alarms" || kind == "cells" ? fmt::format("{}/{}", name, part) : part);
  }
  return out;
}

} // namespace

bool is_offered(const Option& option) { return is_literal(option.name); }

Offer offer_for(const Option& option) {
  if (option.value.empty()) return {};
  if (!option.words.empty()) return {Kind::words, option.words, {}};
  return offer_of(option.value);
}

Offer offer_for_form(std::string_view form) {
  Offer literal{Kind::words, {}, {}};
  for (auto& word : words_of_form(form)) {
    if (const auto offer = offer_of(word); offer.kind != Kind::nothing) return offer;
    if (is_literal(word)) literal.words.push_back(std::move(word));
  }
  return literal.words.empty() ? Offer{} : literal;
}

std::vector<std::string> kinds_of_names() {
  std::vector<std::string> out;
  for (const auto& form : forms)
    if (form.kind == Kind::names) out.emplace_back(form.names);
  return out;
}

std::vector<std::string> names_in(const json& status, std::string_view kind) {
  std::vector<std::string> out;
  const auto add = [&out](const std::string& name) {
    if (is_name_or_path(name) && std::ranges::find(out, name) == out.end()) out.push_back(name);
  };
  if (kind == "outputs")
    for (const auto& output : list_of(status, "outputs")) add(text_of(output, "name"));
  else
    for (const auto& room : list_of(status, "rooms"))
      for (const auto& name : names_of_room(room, kind)) add(name);
  return out;
}

} // namespace oxherd::daemon::cli
