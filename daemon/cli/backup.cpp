#include <fmt/core.h>
#include <nlohmann/json.hpp>
#include <unistd.h>

#include "daemon/backup/backup.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/progress_line.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/clock.hpp"
#include "daemon/time_text.hpp"
#include "daemon/version.hpp"

namespace oxherd::daemon::cli {
namespace {

using backup::Manifest;
using nlohmann::json;

std::vector<Option> backup_options() {
  return {{"--check", "", "copy nothing: read the backup that is there whole, and say whether it is one", ""},
          state_dir_option(),
          json_option("print one line of JSON, times in UTC")};
}

std::vector<Option> restore_options() {
  return {state_dir_option(), json_option("print one line of JSON, times in UTC")};
}

json manifest_json(const Manifest& manifest) {
  auto files = json::array();
  for (const auto& file : manifest.files)
    files.push_back({{"name", file.name}, {"bytes", file.bytes}, {"sha256", file.sha256}});
  return {{"made", rfc3339(manifest.made)},
          {"oxherd", manifest.version},
          {"head", manifest.head ? json(text_of(*manifest.head)) : json(nullptr)},
          {"files", files}};
}

std::string contents_text(const Manifest& manifest) {
  std::string out =
      fmt::format("  made        {} by oxherd {}\n", rfc3339_local(manifest.made), printable(manifest.version));
  for (const auto& file : manifest.files) out += fmt::format("  {:<20}{:>14} bytes\n", file.name, file.bytes);
  if (manifest.head) out += fmt::format("  audit trail ends with {}\n", text_of(*manifest.head));
  return out;
}

/// Work on a backup, with a line that tells how far it is.
template <class Work> auto with_progress(Console& console, Work work) {
  ProgressLine line{console.err, isatty(STDERR_FILENO) == 1};
  auto done = work([&](std::string_view what, double part) {
    line.show_text(part > 0.0 ? fmt::format("{}, {:.0f} %", what, part * 100.0) : std::string{what});
  });
  line.clear();
  return done;
}

std::optional<std::string> folder_of(const Arguments& arguments) {
  const auto& words = arguments.positional();
  return words.size() == 1 ? std::optional{words.front()} : std::nullopt;
}

int run_backup(const Arguments& arguments, Console& console) {
  const auto folder = folder_of(arguments);
  if (!folder) return report(console, "backup", {usage, "name one folder, such as /mnt/records/2026-03-01"});
  const bool check = arguments.given("--check");
  const auto done = with_progress(console, [&](const backup::Progress& progress) {
    return check ? backup::verify(*folder, progress)
                 : backup::make(state_dir_of(arguments), *folder, version, wall_now(), progress);
  });
  if (!done) return report(console, "backup", {failed, done.error()});
  if (arguments.given("--json")) {
    console.out << json_text_of(manifest_json(*done));
    return fine;
  }
  console.out << fmt::format("{} {}\n", printable(*folder),
                             check ? "is a whole backup: every file is as it was made"
                                   : "holds a backup, read back whole")
              << contents_text(*done);
  return fine;
}

int run_restore(const Arguments& arguments, Console& console) {
  const auto folder = folder_of(arguments);
  if (!folder) return report(console, "restore", {usage, "name the folder of one backup"});
  const auto state_dir = state_dir_of(arguments);
  const auto done = with_progress(console, [&](const backup::Progress& progress) {
    return backup::restore(*folder, state_dir, wall_now(), progress);
  });
  if (!done) return report(console, "restore", {failed, done.error()});
  if (arguments.given("--json")) {
    auto answer = manifest_json(done->manifest);
    answer["set_aside"] = done->set_aside.empty() ? json(nullptr) : json(done->set_aside.string());
    console.out << json_text_of(answer);
    return fine;
  }
  console.out << fmt::format("{} holds the records of {}\n", state_dir.string(), printable(*folder))
              << contents_text(done->manifest);
  if (!done->set_aside.empty())
    console.out << fmt::format("What was there is in {}; delete it when it is not needed any more\n",
                               done->set_aside.string());
  console.out << "Alarms and calibrations are as they were then: look at both before the daemon is relied on\n";
  return fine;
}

} // namespace

const Command backup_entry{
    "backup",
    "copies all records into a new folder beside the running daemon, and reads the copy back",
    "Copies journal, calibrations, measurements, users and what else is kept into a new folder while the daemon goes "
    "on writing, each database as it was at one moment. The copy is read back whole: its databases are sound, its "
    "audit "
    "trail is unbroken, every file has a digest. It is a whole backup or not there. Run it as the daemon's user or as "
    "root. The folder holds hashes of passwords and is readable by its owner alone. Keep the settings file as well.",
    "FOLDER",
    "oxherd backup /mnt/records/2026-03-01\n"
    "oxherd backup --check /mnt/records/2026-03-01 --json",
    backup_options,
    run_backup};

const Command restore_entry{
    "restore",
    "puts a backup in place of the records, while no daemon runs",
    "Reads a backup whole and puts it into the state directory. Refused while a daemon uses that: `systemctl stop "
    "oxherd` "
    "before, start it after. What is there moves "
    "into a folder beside it and is not deleted. Alarms stand as they stood when the backup was made, until the next "
    "readings; calibrations recorded since are not in it.",
    "FOLDER",
    "oxherd restore /mnt/records/2026-03-01\n"
    "oxherd restore /mnt/records/2026-03-01 --state-dir /srv/spare --json",
    restore_options,
    run_restore};

} // namespace oxherd::daemon::cli
