#include "daemon/http/service.hpp"

#include <algorithm>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/clock.hpp"
#include "daemon/http/api.hpp"
#include "daemon/http/assets.hpp"
#include "daemon/http/entity_tag.hpp"
#include "daemon/http/metrics.hpp"
#include "daemon/json_text.hpp"
#include "daemon/log.hpp"

namespace oxherd::daemon::http {
namespace {

using identity::Person;
using identity::User;

constexpr std::string_view cookie_name = "oxherd-session";
/// Questions that wait for the decision loop at once; a flood of them must not fill its queue.
constexpr int asked_at_most = 64;
/// Streams at once; the other places are for questions, acknowledging among them.
constexpr std::size_t listeners_max = 400;

bool is(const HttpRequest& request, std::initializer_list<std::string_view> path) {
  return std::equal(request.path.begin(), request.path.end(), path.begin(), path.end());
}

/// For whoever restarts or reports what is not well: the words are for people, the status for programs.
HttpResponse health_answer(const std::string& unwell) {
  constexpr auto type = "text/plain; charset=utf-8";
  if (unwell.empty()) return {200, type, "running\n", {}};
  return {503, type, unwell + '\n', {}};
}

bool reads(const HttpRequest& request) { return request.method == Method::get || request.method == Method::head; }

/// The name under which the page was asked for. A page of another name that was made to lead here (DNS rebinding) must
/// not read what anybody on this machine may read.
bool is_own_name(const HttpRequest& request, const config::Http& settings) {
  auto host = request.header("host");
  const auto colon = host.rfind(':');
  if (colon != std::string_view::npos && host.find(']', colon) == std::string_view::npos) host = host.substr(0, colon);
  const bool numeric = !host.empty() && (host.front() == '[' || host.find_first_not_of("0123456789.") == host.npos);
  return numeric || host == "localhost" ||
         std::find(settings.names.begin(), settings.names.end(), host) != settings.names.end();
}

std::string cookie_text(std::string_view value, bool secure, bool gone) {
  return fmt::format("{}={}; Path=/; HttpOnly; SameSite=Strict{}{}", cookie_name, value, secure ? "; Secure" : "",
                     gone ? "; Max-Age=0" : "");
}

} // namespace

Service::Service(Parts parts, EventHub& hub) : parts_{std::move(parts)}, hub_{hub} {}

void Service::follow_users() {
  std::error_code failed;
  const auto written = std::filesystem::last_write_time(parts_.state_dir / identity::users_file_name, failed);
  if (!failed && written == users_read_) return;
  if (failed && users_.all.empty()) return;
  auto users = identity::read_users(parts_.state_dir);
  users_read_ = failed ? std::filesystem::file_time_type{} : written;
  users_trouble_ = users ? "" : users.error();
  if (!users) log::error("nobody can sign in: {}", users.error());
  users_ = users.value_or(identity::Users{});
  sessions_.follow(users_.all);
  for (const auto& change : users_.changes) parts_.loop.note(change);
}

std::optional<Person> Service::person_of(const HttpRequest& request) {
  follow_users();
  const auto authorization = request.header("authorization");
  constexpr std::string_view bearer = "Bearer ";
  if (authorization.starts_with(bearer)) {
    const auto hash = identity::token_hash(authorization.substr(bearer.size()));
    for (const auto& user : users_.all)
      if (!user.token_hash.empty() && user.token_hash == hash) return Person{user.name, user.role, {}};
    return std::nullopt;
  }
  return sessions_.find(request.cookie(cookie_name), monotonic_now());
}

bool Service::anyone_may_view(const HttpRequest& request) const {
  return request.from_this_machine && parts_.settings.view_without_sign_in;
}

void Service::answer(HttpRequest request, const Respond& respond) {
  if (request.method == Method::other) return respond(problem(405, "GET, HEAD, POST and DELETE are answered"));
  if (!is_own_name(request, parts_.settings))
    return respond(problem(
        403, fmt::format("\"{}\" is not a name of this daemon: add it to `names` in [http]", request.header("host"))));
  if (is(request, {"metrics"}) && reads(request)) return answer_metrics(request, respond);
  if (request.path.empty() || request.path[0] != "api") {
    if (!reads(request)) return respond(problem(405, "there is nothing to change here"));
    if (is(request, {"healthz"})) return respond(health_answer(parts_.loop.unwell ? parts_.loop.unwell() : ""));
    const auto* asset =
        asset_named(request.path.empty() ? "index.html" : fmt::format("{}", fmt::join(request.path, "/")));
    if (asset == nullptr) return respond(problem(404, "there is no such page"));
    return respond(asset_answer(request, *asset));
  }
  if (is(request, {"api", "session"})) return answer_session(request, respond);
  ask_daemon(request, respond);
}

HttpResponse Service::session_answer(const std::optional<Person>& person, const HttpRequest& request) const {
  JsonObject out;
  out.json("user", person ? JsonObject{}.text("name", person->name).text("role", name_of(person->role)).str() : "null")
      .json("csrf", person && !person->csrf.empty() ? json_string(person->csrf) : "null")
      .flag("may_view", person.has_value() || anyone_may_view(request))
      .flag("users", !users_.all.empty())
      .flag("only_shows", parts_.loop.only_shows);
  return {200, "application/json", out.str(), {}};
}

void Service::answer_session(const HttpRequest& request, const Respond& respond) {
  const auto person = person_of(request);
  if (reads(request)) return respond(session_answer(person, request));
  if (request.method == Method::post) return sign_in(request, respond);
  if (person && !person->csrf.empty() && request.header("oxherd-csrf") != person->csrf)
    return respond(problem(403, "the header Oxherd-Csrf is missing or old: load the page anew"));
  sessions_.close(request.cookie(cookie_name));
  auto gone = session_answer(std::nullopt, request);
  gone.headers.emplace_back("Set-Cookie", cookie_text("", parts_.settings.certificate_file.has_value(), true));
  respond(gone);
}

void Service::sign_in(const HttpRequest& request, const Respond& respond) {
  if (!users_trouble_.empty()) return respond(problem(500, "nobody can sign in: " + users_trouble_));
  // A form of another site cannot send this type without asking first, which is never granted.
  if (request.header("content-type").substr(0, 16) != "application/json")
    return respond(problem(415, "the body is to be application/json"));
  const auto body = nlohmann::json::parse(request.body, nullptr, false);
  if (!body.is_object() || !body.contains("name") || !body["name"].is_string() || !body.contains("password") ||
      !body["password"].is_string())
    return respond(problem(400, "signing in needs a name and a password"));
  const std::string name = body["name"], password = body["password"];
  // The address first: one that is held up already may not fill the memory with names, nor hold up other people's.
  for (const auto& key : {"peer " + request.peer, "name " + name})
    if (const auto wait = brake_.ask(key, monotonic_now())) {
      auto slow = problem(429, "too many tries: wait, then try again");
      slow.headers.emplace_back("Retry-After", std::to_string(wait->count() / 1000 + 1));
      return respond(slow);
    }
  const auto found =
      std::find_if(users_.all.begin(), users_.all.end(), [&](const User& user) { return user.name == name; });
  auto user = found == users_.all.end() ? std::nullopt : std::optional{*found};
  parts_.aside([this, back = parts_.back, user, password, request, respond] {
    const bool fits = user && identity::password_fits(*user, password);
    if (!user) identity::pretend_to_check(password);
    back([this, user, fits, request, respond] {
      if (fits) return signed_in(request, *user, respond);
      log::warning("sign-in refused from {}", request.peer);
      // Only names that there are: what is typed in the wrong field may be a password.
      if (user)
        note(*user, "sign-in-refused", {}, fmt::format("a wrong password for {} from {}", user->name, request.peer));
      respond(problem(401, "name or password are wrong"));
    });
  });
}

void Service::signed_in(const HttpRequest& request, const User& user, const Respond& respond) {
  brake_.forget("name " + user.name);
  brake_.forget("peer " + request.peer);
  const auto opened = sessions_.open(user, monotonic_now());
  const auto words = fmt::format("{} ({}) signed in from {}", user.name, name_of(user.role), request.peer);
  log::info("{}", words);
  note(user, "signed-in", user.name, words);
  auto response = session_answer(opened.person, request);
  response.headers.emplace_back("Set-Cookie",
                                cookie_text(opened.cookie, parts_.settings.certificate_file.has_value(), false));
  respond(response);
}

void Service::note(const User& user, std::string event, std::string author, std::string text) {
  parts_.loop.note({wall_now(), user.name, std::move(event), std::move(author), std::move(text)});
}

void Service::ask_daemon(const HttpRequest& request, const Respond& respond) {
  const auto person = person_of(request);
  const bool may_view = person.has_value() || anyone_may_view(request);
  if (is(request, {"api", "openapi.json"}) && reads(request))
    return respond(asset_answer(request, *asset_named("openapi.json")));
  if (is(request, {"api", "stream"}) && reads(request))
    return !may_view                           ? respond(problem(401, "sign in first"))
           : hub_.listeners() >= listeners_max ? respond(problem(503, "too many pages are open: close some"))
                                               : respond(StreamStart{});
  if (request.path.size() == 3 && request.path[1] == "rooms" && reads(request)) {
    if (!may_view) return respond(problem(401, "sign in first"));
    const auto* room = hub_.room_json(request.path[2]);
    if (room == nullptr) return respond(problem(404, "there is no room " + request.path[2]));
    return respond(with_entity_tag(request, {200, "application/json", *room, {}}));
  }
  auto asked = question_of(request, person, anyone_may_view(request));
  if (auto* response = std::get_if<HttpResponse>(&asked)) return respond(std::move(*response));
  auto question = std::get<Question>(std::move(asked));
  auto line = question.line;
  ask(std::move(line), respond,
      [request, question](const std::string& answer) { return answer_of(request, question, answer); });
}

void Service::answer_metrics(const HttpRequest& request, const Respond& respond) {
  if (!person_of(request) && !anyone_may_view(request)) return respond(problem(401, "send a token, or sign in first"));
  ask(R"({"command":"status"})", respond,
      [form = exposition_for(request)](const std::string& answer) { return metrics_answer(form, answer); });
}

void Service::ask(std::string line, const Respond& respond, std::function<HttpResponse(const std::string&)> form) {
  if (asked_ >= asked_at_most) return respond(problem(503, "too many questions at once: ask again in a moment"));
  ++asked_;
  parts_.loop.ask(std::move(line), [this, back = parts_.back, respond, form = std::move(form)](std::string answer) {
    back([this, respond, form, answer = std::move(answer)] {
      --asked_;
      respond(form(answer));
    });
  });
}

} // namespace oxherd::daemon::http
