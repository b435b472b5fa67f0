#include "daemon/collect/wellness.hpp"

#include <vector>

#include <fmt/format.h>

#include "daemon/json_text.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::collect {
namespace {

/// Three of the writer's questions to a database that nothing comes for.
constexpr std::chrono::seconds commit_age_most{30};

std::int64_t counted(std::uint64_t count) { return static_cast<std::int64_t>(count); }

} // namespace

std::string why_unwell(const CollectHealth& health) {
  std::vector<std::string> troubles;
  if (!health.broker.connected) troubles.emplace_back("the broker is not connected, so nothing comes");
  const auto& writer = health.writer;
  if (!writer.trouble.empty())
    troubles.emplace_back("the database does not take what comes; nothing of it is acknowledged to the broker");
  else if (!writer.last_commit)
    troubles.emplace_back("the database has taken nothing since the start");
  else if (writer.commit_age > commit_age_most)
    troubles.push_back(fmt::format("the database has confirmed nothing for {} s",
                                   std::chrono::floor<std::chrono::seconds>(writer.commit_age).count()));
  return fmt::format("{}", fmt::join(troubles, "\n"));
}

std::string collect_json(const CollectHealth& health) {
  const auto& writer = health.writer;
  return JsonObject{}
      .integer("received", counted(health.broker.received))
      .integer("stored", counted(writer.stored))
      .integer("again", counted(writer.again))
      .integer("differing", counted(writer.differing))
      .integer("without_use", counted(writer.without_use))
      .integer("malformed", counted(writer.malformed))
      .json("last_commit", writer.last_commit ? json_string(rfc3339(*writer.last_commit)) : "null")
      .number("commit_age_s", writer.last_commit
                                  ? std::optional{std::chrono::duration<double>(writer.commit_age).count()}
                                  : std::nullopt)
      .text("roll_up_trouble", health.roll_up_trouble)
      .str();
}

} // namespace oxherd::daemon::collect
