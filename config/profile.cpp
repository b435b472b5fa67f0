#include "config/profile.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <set>
#include <system_error>

#include <fmt/core.h>

#include "config/measurands.hpp"
#include "config/nearest.hpp"
#include "config/rules.hpp"
#include "config/table_reader.hpp"

namespace oxherd::config {
namespace {

using compensation::Dimension;
using drivers::ByteOrder;
using drivers::Encoding;

constexpr std::array<Choice<drivers::Table>, 4> table_words{{{"coil", drivers::Table::coil},
                                                             {"discrete", drivers::Table::discrete_input},
                                                             {"input", drivers::Table::input_register},
                                                             {"holding", drivers::Table::holding_register}}};
constexpr std::array<Choice<Encoding>, 7> type_words{{{"int16", Encoding::int16},
                                                      {"uint16", Encoding::uint16},
                                                      {"int32", Encoding::int32},
                                                      {"uint32", Encoding::uint32},
                                                      {"float32", Encoding::float32},
                                                      {"float64", Encoding::float64},
                                                      {"bit", Encoding::bit}}};
constexpr std::array<Choice<ByteOrder>, 4> order_words{
    {{"ABCD", ByteOrder::abcd}, {"CDAB", ByteOrder::cdab}, {"BADC", ByteOrder::badc}, {"DCBA", ByteOrder::dcba}}};
// NAMUR NE 107; "ok" is not something a status bit says.
constexpr std::array<Choice<alarms::Status>, 4> category_words{
    {{"failure", alarms::Status::failure},
     {"function_check", alarms::Status::function_check},
     {"out_of_specification", alarms::Status::out_of_specification},
     {"maintenance_required", alarms::Status::maintenance_required}}};

constexpr double any_number = 1e15;

bool is_bit_table(drivers::Table table) {
  return table == drivers::Table::coil || table == drivers::Table::discrete_input;
}

/// Where the number lies and how it is built of bytes.
void read_place(TableReader& in, drivers::Point& point) {
  in.require("table", "\"input\"");
  in.require("address", "0");
  in.require("type", "\"float32\"");
  point.table = in.choice("table", table_words).value_or(point.table);
  point.address = static_cast<std::uint16_t>(in.integer("address", register_address).value_or(0));
  const auto type = in.choice("type", type_words);
  point.encoding = type.value_or(point.encoding);
  point.order = in.choice("order", order_words).value_or(point.order);
  if (point.address + drivers::words_of(point.encoding) > 65536)
    in.error("address", fmt::format("{} leaves no room for the whole value below address 65536", point.address));
  if (type && is_bit_table(point.table) != (*type == Encoding::bit))
    in.error("type", is_bit_table(point.table) ? "a coil or discrete input holds a \"bit\""
                                               : "a register holds a number; \"bit\" belongs to coil or discrete");
}

/// How the number becomes a value in SI: the unit also tells which delivery of the measurand it is.
void read_value(TableReader& in, const Delivery& delivery, ProfilePoint& to) {
  drivers::Point& point = to.point;
  to.dimension = delivery.dimension;
  if (const auto scale = in.number("scale", -any_number, any_number)) {
    point.scale = *scale;
    if (*scale == 0.0) in.error("scale", "0 would make every value the same");
  }
  point.offset = in.number("offset", -any_number, any_number).value_or(0.0);
  point.bad_values = in.numbers("bad_values");
  QuantityRule limit;
  limit.dimension = delivery.dimension;
  point.lowest_si = delivery.lowest_si;
  point.highest_si = delivery.highest_si;
  if (const auto lowest = in.quantity("lowest", limit)) point.lowest_si = *lowest;
  if (const auto highest = in.quantity("highest", limit)) point.highest_si = *highest;
  if (point.lowest_si && point.highest_si && *point.lowest_si >= *point.highest_si)
    in.error(in.has("highest") ? "highest" : "lowest", "lowest must be below highest");
  const QuantityRule u{difference_of(delivery.dimension), 0.0, 1e6, "what an uncertainty can be (0 or more)"};
  to.measured = {delivery.measurand, in.quantity("uncertainty", u).value_or(delivery.u_si)};
}

/// The delivery that the unit fits, preferring the first (a cell's signal before a fraction).
const Delivery* delivery_of(TableReader& in, Measurand measurand, drivers::Point& point) {
  in.require("unit", measurand == Measurand::oxygen ? "\"mV\"" : "\"hPa\"");
  const auto symbol = in.text("unit");
  if (!symbol) return nullptr;
  std::string refusal;
  for (const auto& delivery : deliveries()) {
    if (delivery.measurand != measurand) continue;
    const auto unit = compensation::find_unit(*symbol, delivery.dimension);
    if (unit) {
      point.si_scale = unit->scale;
      point.si_offset = unit->offset;
      return &delivery;
    }
    if (refusal.empty()) refusal = unit.error().message;
  }
  in.error("unit", refusal);
  return nullptr;
}

/// Which of a contact's two numbers means the state that it is named after. Another number is no state of it.
void read_contact(TableReader& in, const ContactInput& contact, ProfilePoint& to) {
  in.require(contact.when_key, "0");
  const auto when = in.integer(contact.when_key, {0, 1}).value_or(1);
  to.point.scale = when == 1 ? 1.0 : -1.0;
  to.point.offset = when == 1 ? 0.0 : 1.0;
  to.point.lowest_si = 0.0;
  to.point.highest_si = 1.0;
  to.measured = {contact.measurand, 0.0};
  to.dimension = Dimension::ratio;
}

void read_point(Measurand measurand, TableReader in, Profile& profile) {
  ProfilePoint point;
  point.point.name = name_of(measurand);
  read_place(in, point.point);
  if (const ContactInput* contact = contact_of(measurand))
    read_contact(in, *contact, point);
  else if (const Delivery* delivery = delivery_of(in, measurand, point.point))
    read_value(in, *delivery, point);
  else // without a unit nothing else can be judged, but it is not unknown either
    for (const std::string_view key : {"scale", "offset", "bad_values", "lowest", "highest", "uncertainty"})
      static_cast<void>(in.has(key));
  in.finish();
  profile.points.push_back(std::move(point));
}

void read_status(TableReader in, Profile& profile) {
  in.require("table", "\"input\"");
  in.require("address", "2");
  in.require("category", "\"failure\"");
  in.require("text", "\"cell disconnected\"");
  drivers::StatusBits bits;
  bits.table = in.choice("table", table_words).value_or(bits.table);
  bits.address = static_cast<std::uint16_t>(in.integer("address", register_address).value_or(0));
  if (is_bit_table(bits.table)) {
    bits.mask = 1;
    if (in.has("mask")) in.error("mask", "belongs to a register; a coil or discrete input is one bit");
  } else {
    in.require("mask", "0x0001");
    bits.mask = static_cast<std::uint16_t>(in.integer("mask", {1, 65535}).value_or(1));
  }
  bits.active_low = in.boolean("active_low").value_or(false);
  StatusMeaning meaning;
  meaning.status = in.choice("category", category_words).value_or(meaning.status);
  meaning.text = in.text("text").value_or("");
  in.finish();
  profile.status.push_back(bits);
  profile.meanings.push_back(std::move(meaning));
}

void read_points(TableReader& in, Profile& profile) {
  if (!in.has("point")) in.error("point", "missing; a profile needs a table such as [point.oxygen]");
  auto points = in.table("point");
  if (!points) return;
  points->each_named("measurand", [&](const std::string& word, TableReader one) {
    if (const auto measurand = measurand_named(word))
      read_point(*measurand, one, profile);
    else
      one.error(
          "", fmt::format("\"{}\" is no measurand; there is {}", word, listed_nearest_first(word, measurand_names())));
  });
  if (profile.points.empty() && !in.problems().has_error_under("point"))
    in.error("point", "a profile needs at least one point");
}

} // namespace

std::optional<Profile> parse_profile(std::string_view name, std::string_view text, Problems& problems) {
  const auto root = read_document(text, problems);
  if (!root) return std::nullopt;
  Profile profile;
  profile.name = name;
  TableReader in{*root, {1, 1}, "", problems};
  in.require("description", "\"one cell, millivolts as float32\"");
  profile.description = in.text("description").value_or("");
  read_points(in, profile);
  for (auto& one : in.tables("status")) read_status(one, profile);
  if (auto read = in.table("read")) {
    profile.gap_max = read->integer("gap_max", gap_length);
    profile.length_max = read->integer("length_max", request_length);
    read->finish();
  }
  in.finish();
  if (problems.has_errors()) return std::nullopt;
  return profile;
}

std::filesystem::path ProfileShelf::file_of(const std::string& name) const {
  if (!is_name(name)) return {}; // a name is never a way out of the directory
  for (const auto& directory : directories_) {
    std::error_code ignored;
    auto file = directory / (name + ".toml");
    if (std::filesystem::exists(file, ignored)) return file;
  }
  return {};
}

bool ProfileShelf::exists(const std::string& name) const { return !file_of(name).empty(); }

const Profile* ProfileShelf::find(const std::string& name) {
  const auto known = read_.find(name);
  if (known != read_.end()) return known->second ? &*known->second : nullptr;
  const auto file = file_of(name);
  if (file.empty()) return nullptr;
  Problems problems{file.string()};
  std::optional<Profile> profile;
  if (const auto text = read_text(file.string(), problems)) profile = parse_profile(name, *text, problems);
  problems_.push_back(std::move(problems));
  const auto& kept = read_.emplace(name, std::move(profile)).first->second;
  return kept ? &*kept : nullptr;
}

std::vector<std::string> ProfileShelf::names() const {
  std::set<std::string> names;
  for (const auto& directory : directories_) {
    std::error_code fault;
    for (std::filesystem::directory_iterator it{directory, fault}, end; !fault && it != end; it.increment(fault)) {
      const auto stem = it->path().stem().string();
      if (it->path().extension() == ".toml" && is_name(stem)) names.insert(stem);
    }
  }
  return {names.begin(), names.end()};
}

} // namespace oxherd::config
