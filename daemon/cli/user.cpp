#include <algorithm>
#include <iostream>

#include <termios.h>
#include <unistd.h>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "daemon/cli/answer.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/login.hpp"
#include "daemon/cli/table.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/clock.hpp"
#include "daemon/control_socket/person_name.hpp"
#include "daemon/identity/users.hpp"

namespace oxherd::daemon::cli {
namespace {

using identity::User;

std::vector<Option> user_options() {
  return {{"--role",
           "ROLE",
           "viewer, operator or engineer; makes the user if there is none of that name",
           "operator",
           true,
           {"viewer", "operator", "engineer"}},
          {"--password", "", "asks for a new password; on standard input it is the first line", ""},
          {"--token", "", "prints a new token, for a program that asks over HTTP", ""},
          {"--remove", "", "takes the user away; open sessions end", ""},
          {"--by", "NAME", "who does it, for the journal (default: your login name)", "R. Okafor"},
          state_dir_option(),
          json_option()};
}

/// Keeps what is typed from the screen.
class NoEcho {
public:
  NoEcho() {
    if (::tcgetattr(STDIN_FILENO, &before_) != 0) return;
    termios silent = before_;
    silent.c_lflag &= ~static_cast<tcflag_t>(ECHO);
    changed_ = ::tcsetattr(STDIN_FILENO, TCSAFLUSH, &silent) == 0;
  }
  ~NoEcho() {
    if (changed_) ::tcsetattr(STDIN_FILENO, TCSAFLUSH, &before_);
  }
  NoEcho(const NoEcho&) = delete;
  NoEcho& operator=(const NoEcho&) = delete;

private:
  termios before_{};
  bool changed_ = false;
};

std::string typed_line(Console& console, std::string_view prompt) {
  const bool terminal = ::isatty(STDIN_FILENO) != 0;
  std::optional<NoEcho> silent;
  if (terminal) {
    console.err << prompt << std::flush;
    silent.emplace();
  }
  std::string line;
  std::getline(std::cin, line);
  if (terminal) console.err << '\n';
  return line;
}

/// The error is a sentence for the person.
tl::expected<std::string, std::string> new_password(Console& console, const std::string& name) {
  const auto password = typed_line(console, fmt::format("Password for {}: ", name));
  if (password.size() < identity::password_length_min)
    return tl::unexpected(
        fmt::format("the password is too short: at least {} characters", identity::password_length_min));
  if (::isatty(STDIN_FILENO) != 0 && typed_line(console, "Again: ") != password)
    return tl::unexpected(std::string{"the second password is another one: nothing was changed"});
  return password;
}

int list(const std::vector<User>& users, const Arguments& arguments, Console& console) {
  if (arguments.given("--json")) {
    auto objects = nlohmann::json::array();
    for (const auto& user : users)
      objects.push_back({{"name", user.name},
                         {"role", name_of(user.role)},
                         {"password", !user.password_hash.empty()},
                         {"token", !user.token_hash.empty()}});
    console.out << json_text_of({{"users", objects}});
    return fine;
  }
  if (users.empty()) {
    console.out << "Nobody can sign in to the page: `oxherd user NAME --role operator` makes a user.\n";
    return fine;
  }
  Table table;
  table.add({"user", "role", "signs in by"});
  for (const auto& user : users)
    table.add({user.name, std::string{name_of(user.role)},
               user.token_hash.empty()      ? "password"
               : user.password_hash.empty() ? "token"
                                            : "password, token"});
  console.out << table.text();
  return fine;
}

/// The users with one of them changed as the options say, and each change noted.
class Changing {
public:
  Changing(identity::Users& users, const Arguments& arguments, std::string author)
      : users_{users}, arguments_{arguments}, author_{std::move(author)}, name_{arguments.positional().front()} {}

  /// Empty: done.
  std::optional<AnswerError> remove() {
    const auto user = found();
    if (user == users_.all.end()) return AnswerError{failed, fmt::format("there is no user {}", printable(name_))};
    users_.all.erase(user);
    note("user-removed", "is removed");
    return std::nullopt;
  }

  std::optional<AnswerError> change(Console& console) {
    const bool is_new = found() == users_.all.end();
    if (is_new && !arguments_.given("--role"))
      return AnswerError{failed, fmt::format("there is no user {}: --role makes one", printable(name_))};
    if (is_new) users_.all.push_back(User{name_, identity::Role::viewer, {}, {}});
    auto& user = *found();
    const auto role = identity::role_named(arguments_.value_or("--role", name_of(user.role)));
    if (!role) return AnswerError{usage, "a role is viewer, operator or engineer"};
    if (is_new) note("user-made", fmt::format("is made, {}", name_of(*role)));
    if (!is_new && *role != user.role)
      note("role-changed", fmt::format("was {} and is {}", name_of(user.role), name_of(*role)));
    user.role = *role;
    if (arguments_.given("--password") || (is_new && !arguments_.given("--token")))
      if (auto wrong = set_password(user, is_new, console)) return wrong;
    if (arguments_.given("--token")) make_token(user);
    return std::nullopt;
  }

  /// The new one, to be shown once; empty: none was asked for.
  [[nodiscard]] const std::string& token() const { return token_; }

private:
  std::vector<User>::iterator found() {
    return std::find_if(users_.all.begin(), users_.all.end(), [&](const User& one) { return one.name == name_; });
  }
  std::optional<AnswerError> set_password(User& user, bool is_new, Console& console) {
    const auto password = new_password(console, name_);
    if (!password) return AnswerError{failed, password.error()};
    user.password_hash = identity::hash_password(*password);
    if (!is_new) note("password-set", "has a new password");
    return std::nullopt;
  }
  void make_token(User& user) {
    token_ = identity::random_token();
    user.token_hash = identity::token_hash(token_);
    note("token-made", "has a new token");
  }
  void note(const char* event, const std::string& what) {
    users_.add({wall_now(), name_, event, author_, name_ + " " + what});
  }

  identity::Users& users_;
  const Arguments& arguments_;
  const std::string author_, name_;
  std::string token_;
};

int change(identity::Users users, const Arguments& arguments, Console& console) {
  const auto& name = arguments.positional().front();
  if (!is_a_name(name))
    return report(console, "user", {usage, "a name has something to read, and no control characters"});
  const auto author = arguments.value_or("--by", login_name());
  if (!is_somebody(author)) return report(console, "user", {usage, "who are you? --by NAME says it for the journal"});
  Changing changing{users, arguments, author};
  const bool gone = arguments.given("--remove");
  if (auto wrong = gone ? changing.remove() : changing.change(console)) return report(console, "user", *wrong);
  if (const auto written = identity::write_users(state_dir_of(arguments), users); !written)
    return report(console, "user", {failed, written.error()});
  if (!changing.token().empty()) {
    console.out << changing.token() << '\n';
    console.err << "Shown this once: send it as `Authorization: Bearer TOKEN`.\n";
  }
  console.err << (gone ? "Removed. " : "") << "In force within a second.\n";
  return fine;
}

int run_user(const Arguments& arguments, Console& console) {
  auto users = identity::read_users(state_dir_of(arguments));
  if (!users) return report(console, "user", {failed, users.error()});
  if (arguments.positional().size() == 1) return change(std::move(*users), arguments, console);
  if (arguments.positional().size() > 1)
    return report(console, "user", {usage, "takes one NAME: put one with blanks into quotes"});
  for (const char* option : {"--role", "--password", "--token", "--remove"})
    if (arguments.given(option)) return report(console, "user", {usage, fmt::format("{} needs one NAME", option)});
  return list(users->all, arguments, console);
}

} // namespace

const Command user_entry{
    "user",
    "shows who may sign in to the page, and makes, changes or removes users",
    "Viewers see everything, operators also acknowledge, shelve, say what the regime of a room is and calibrate, "
    "engineers also take alarms out of service, prove outputs and withdraw calibrations. The name is what the journal "
    "names as the author. Passwords are kept as argon2id. The commands on this machine need none of it: there the "
    "group of the control socket decides.",
    "[NAME]",
    "oxherd user\n"
    "oxherd user \"R. Okafor\" --role engineer\n"
    "oxherd user historian --role viewer --token\n"
    "oxherd user \"R. Okafor\" --remove",
    user_options,
    run_user};

} // namespace oxherd::daemon::cli
