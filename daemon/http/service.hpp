#pragma once

#include <filesystem>
#include <string>

#include "config/settings.hpp"
#include "daemon/http/events.hpp"
#include "daemon/http/http_server.hpp"
#include "daemon/http/session.hpp"
#include "daemon/identity/sessions.hpp"

namespace oxherd::daemon::http {

/// Answers every request there is: the page, who has signed in, the interface. Runs on the server's thread; what takes
/// time is done elsewhere.
class Service {
public:
  struct Parts {
    const config::Http& settings;
    std::filesystem::path state_dir;
    DecisionLoop loop;
    std::function<void(std::function<void()>)> aside; ///< runs it where nobody waits
    std::function<void(std::function<void()>)> back;  ///< runs it on the server's thread
  };
  Service(Parts parts, EventHub& hub);

  void answer(HttpRequest request, const Respond& respond);
  /// Reads the file of users again when it has changed, and hands on what was changed.
  void follow_users();

private:
  [[nodiscard]] std::optional<identity::Person> person_of(const HttpRequest& request);
  [[nodiscard]] bool anyone_may_view(const HttpRequest& request) const;
  [[nodiscard]] HttpResponse session_answer(const std::optional<identity::Person>& person,
                                            const HttpRequest& request) const;
  void sign_in(const HttpRequest& request, const Respond& respond);
  void note(const identity::User& user, std::string event, std::string author, std::string text);
  void signed_in(const HttpRequest& request, const identity::User& user, const Respond& respond);
  void answer_session(const HttpRequest& request, const Respond& respond);
  void ask_daemon(const HttpRequest& request, const Respond& respond);
  void answer_metrics(const HttpRequest& request, const Respond& respond);
  /// @param form  makes the response of the loop's answer; runs on the server's thread
  void ask(std::string line, const Respond& respond, std::function<HttpResponse(const std::string&)> form);

  Parts parts_;
  EventHub& hub_;
  identity::Sessions sessions_;
  identity::SignInBrake brake_;
  identity::Users users_;
  std::string users_trouble_; ///< why the file of users cannot be used
  std::filesystem::file_time_type users_read_{};
  int asked_ = 0; ///< questions that wait for the decision loop
};

} // namespace oxherd::daemon::http
