#include <array>

#include <openssl/evp.h>
#include <openssl/hmac.h>

#include <fmt/core.h>

#include "alarms/texts.hpp"
#include "daemon/json_text.hpp"
#include "daemon/notify/formats.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::notify {
namespace {

std::string facts_json(const Facts& f) {
  return JsonObject{}
      .text("room", f.room)
      .text("alarm", f.alarm)
      .text("state", alarms::name_of(f.state))
      .text("priority", alarms::name_of(f.priority))
      .flag("safety", f.safety)
      .flag("present", f.present)
      .flag("first_out", f.first_out)
      .flag("test", f.test)
      .text("since", rfc3339(f.raised))
      .number("value", f.value)
      .number("expanded", f.expanded)
      .number("limit", f.limit)
      .text("unit", f.unit)
      .text("text", f.text)
      .str();
}

} // namespace

std::string webhook_json(const Message& m, const Sender& sender, const config::Contact& to) {
  const auto words = words_of(m, sender);
  std::vector<std::string> alarm_objects, earlier;
  for (const auto& f : m.alarms) alarm_objects.push_back(facts_json(f));
  for (const auto& before : m.earlier) earlier.push_back(json_string(before.id));
  return JsonObject{}
      .text("id", m.id)
      .integer("number", m.number)
      .text("kind", name_of(m.kind))
      .flag("test", is_test(m))
      .text("site", sender.site)
      .text("sent", rfc3339(m.at))
      .json("to", JsonObject{}.text("contact", to.name).text("name", to.person).text("address", to.address).str())
      .integer("step", m.step)
      .text("brief", words.brief)
      .text("text", words.body)
      .json("alarms", json_array(alarm_objects))
      .json("earlier", json_array(earlier))
      .text("caution", alarms::caution_short())
      .str();
}

std::string signature(std::string_view secret, std::int64_t timestamp_s, std::string_view body) {
  const auto text = fmt::format("{}.{}", timestamp_s, body);
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int size = 0;
  HMAC(EVP_sha256(), secret.data(), static_cast<int>(secret.size()),
       reinterpret_cast<const unsigned char*>(text.data()), text.size(), digest.data(), &size);
  std::string out = "sha256=";
  for (unsigned int i = 0; i < size; ++i) out += fmt::format("{:02x}", digest[i]);
  return out;
}

} // namespace oxherd::daemon::notify
