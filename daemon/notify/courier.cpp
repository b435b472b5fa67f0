#include "daemon/notify/courier.hpp"

#include <algorithm>
#include <array>
#include <concepts>
#include <csignal>
#include <ctime>
#include <list>
#include <stdexcept>

#include <curl/curl.h>

#include <openssl/x509_vfy.h>

#include <fmt/core.h>

#include "daemon/clock.hpp"
#include "daemon/json_text.hpp"
#include "daemon/mqtt/password_file.hpp"
#include "daemon/notify/formats.hpp"

namespace oxherd::daemon::notify {

/// What is still to be uploaded.
struct Upload {
  std::string text;
  std::size_t done = 0;
  static std::size_t read(char* buffer, std::size_t size, std::size_t count, void* from) {
    auto& upload = *static_cast<Upload*>(from);
    const auto n = std::min(size * count, upload.text.size() - upload.done);
    std::copy_n(upload.text.data() + upload.done, n, buffer);
    upload.done += n;
    return n;
  }
};

/// One attempt with all that libcurl keeps pointers into.
struct Transfer {
  Transfer() : easy{curl_easy_init()} {}
  Transfer(const Transfer&) = delete;
  Transfer& operator=(const Transfer&) = delete;
  ~Transfer() {
    curl_slist_free_all(headers);
    curl_slist_free_all(receivers);
    curl_easy_cleanup(easy);
  }
  template <class Value> void set(CURLoption option, Value value) { curl_easy_setopt(easy, option, value); }
  void header(const std::string& line) { headers = curl_slist_append(headers, line.c_str()); }

  CURL* easy;
  std::int64_t key = 0;
  curl_slist* headers = nullptr;
  curl_slist* receivers = nullptr;
  Upload upload;
  std::string after_connect; ///< sent over the bare connection once it stands
  std::array<char, CURL_ERROR_SIZE> words{};
};

namespace {

/// Of an answer nobody reads more than its status; a server that never ends one must not fill the memory.
std::size_t swallow(char* /*data*/, std::size_t size, std::size_t count, void* /*to*/) { return size * count; }

void set_up(Transfer& t, const std::string& url, std::chrono::milliseconds timeout,
            const std::optional<std::string>& ca_file) {
  t.set(CURLOPT_URL, url.c_str());
  t.set(CURLOPT_NOSIGNAL, 1L);
  t.set(CURLOPT_TIMEOUT_MS, static_cast<long>(timeout.count()));
  t.set(CURLOPT_CONNECTTIMEOUT_MS, static_cast<long>(timeout.count()));
  t.set(CURLOPT_ERRORBUFFER, t.words.data());
  t.set(CURLOPT_WRITEFUNCTION, swallow);
  t.set(CURLOPT_PROXY, ""); // none of the environment's
  t.set(CURLOPT_SSLVERSION, static_cast<long>(CURL_SSLVERSION_TLSv1_2));
  t.set(CURLOPT_SSL_VERIFYPEER, 1L);
  t.set(CURLOPT_SSL_VERIFYHOST, 2L);
  if (ca_file) t.set(CURLOPT_CAINFO, ca_file->c_str());
  t.set(CURLOPT_PRIVATE, &t);
}

bool is_to_this_machine(std::string_view url) {
  const auto host = url.substr(std::min(url.find("://") + 3, url.size()));
  return host.starts_with("localhost:") || host.starts_with("127.") || host.starts_with("[::1]:");
}

std::optional<std::string> prepare(Transfer& t, const config::NotifyRoute& route, const config::MailRoute& mail,
                                   const Parcel& parcel) {
  set_up(t, mail.server, route.timeout, mail.ca_file);
  t.set(CURLOPT_PROTOCOLS_STR, "smtp,smtps");
  const bool plain_is_fine = is_to_this_machine(mail.server) && !mail.ca_file;
  t.set(CURLOPT_USE_SSL, static_cast<long>(plain_is_fine ? CURLUSESSL_NONE : CURLUSESSL_ALL));
  if (mail.user && mail.password_file) {
    const auto password = read_secret(fmt::format("route.{}.password_file", route.name), *mail.password_file);
    if (!password) return password.error();
    t.set(CURLOPT_USERNAME, mail.user->c_str());
    t.set(CURLOPT_PASSWORD, password->c_str()); // copied
  }
  t.set(CURLOPT_MAIL_FROM, fmt::format("<{}>", mail.from).c_str());
  t.receivers = curl_slist_append(nullptr, fmt::format("<{}>", parcel.address).c_str());
  t.set(CURLOPT_MAIL_RCPT, t.receivers);
  t.upload.text = parcel.payload;
  t.set(CURLOPT_READFUNCTION, Upload::read);
  t.set(CURLOPT_READDATA, &t.upload);
  t.set(CURLOPT_UPLOAD, 1L);
  return std::nullopt;
}

void post_body(Transfer& t, const std::string& body) {
  t.set(CURLOPT_PROTOCOLS_STR, "http,https");
  t.set(CURLOPT_POSTFIELDSIZE, static_cast<long>(body.size()));
  t.set(CURLOPT_COPYPOSTFIELDS, body.c_str());
  t.header("Expect:"); // no pause before the body
}

std::optional<std::string> prepare(Transfer& t, const config::NotifyRoute& route, const config::WebhookRoute& hook,
                                   const Parcel& parcel) {
  set_up(t, hook.url, route.timeout, hook.ca_file);
  post_body(t, parcel.payload);
  t.header(hook.cap ? "Content-Type: application/cap+xml" : "Content-Type: application/json");
  t.header("Idempotency-Key: " + parcel.id);
  if (hook.secret_file) {
    const auto secret = read_secret(fmt::format("route.{}.secret_file", route.name), *hook.secret_file);
    if (!secret) return secret.error();
    const auto now_s = static_cast<std::int64_t>(std::time(nullptr));
    t.header(fmt::format("Oxherd-Timestamp: {}", now_s));
    t.header("Oxherd-Signature: " + signature(*secret, now_s, parcel.payload));
  }
  t.set(CURLOPT_HTTPHEADER, t.headers);
  return std::nullopt;
}

/// Only syslog over TCP needs a connection; the datagrams are sent elsewhere.
std::optional<std::string> prepare(Transfer& t, const config::NotifyRoute& route, const config::SyslogRoute& log,
                                   const Parcel& parcel) {
  const bool v6 = log.host.find(':') != std::string::npos;
  set_up(t, fmt::format("http://{}{}{}:{}/", v6 ? "[" : "", log.host, v6 ? "]" : "", log.port), route.timeout, {});
  t.set(CURLOPT_CONNECT_ONLY, 1L);
  t.after_connect = octet_counted(parcel.payload);
  return std::nullopt;
}

/// Those that are done aside: named here, so that a new kind does not compile before it is thought of.
template <class Kind>
  requires std::same_as<Kind, config::CapFilesRoute> || std::same_as<Kind, config::MqttRoute>
std::optional<std::string> prepare(Transfer& /*t*/, const config::NotifyRoute& /*route*/, const Kind& /*kind*/,
                                   const Parcel& /*parcel*/) {
  return "this is not sent over a connection of its own";
}

/// What to do about a failure, where that can be told. `verified` is OpenSSL's word on the certificate.
std::string_view advice(CURLcode code, long verified) {
  switch (code) {
  case CURLE_USE_SSL_FAILED: return "nothing was sent in clear; have STARTTLS switched on there, or use smtps://";
  case CURLE_SSL_CACERT_BADFILE: return "is ca_file there, and for the daemon to read?";
  case CURLE_LOGIN_DENIED: return "check user and password_file";
  case CURLE_PEER_FAILED_VERIFICATION: break;
  default: return {};
  }
  switch (verified) {
  case X509_V_OK:
  case X509_V_ERR_UNSPECIFIED: // so libcurl leaves it when the certificate is sound but for another name
    return "write a name that its certificate has into the address";
  case X509_V_ERR_CERT_HAS_EXPIRED: return "renew the server's certificate, or that of its authority";
  case X509_V_ERR_CERT_NOT_YET_VALID: return "is this machine's clock right?";
  default: return "name the certificate of the authority that signed it with ca_file";
  }
}

std::string failure_of(Transfer& t, CURLcode code) {
  std::string words = t.words.front() != '\0' ? t.words.data() : curl_easy_strerror(code);
  long verified = X509_V_OK;
  curl_easy_getinfo(t.easy, CURLINFO_SSL_VERIFYRESULT, &verified);
  const auto what_to_do = advice(code, verified);
  return what_to_do.empty() ? words : fmt::format("{}: {}", words, what_to_do);
}

/// What a finished attempt came to; empty: taken.
std::string outcome_of(Transfer& t, CURLcode code) {
  if (code != CURLE_OK) return failure_of(t, code);
  if (!t.after_connect.empty()) {
    std::size_t sent = 0;
    if (curl_easy_send(t.easy, t.after_connect.data(), t.after_connect.size(), &sent) != CURLE_OK ||
        sent != t.after_connect.size())
      return "the connection takes nothing";
    return {};
  }
  long status = 0;
  curl_easy_getinfo(t.easy, CURLINFO_RESPONSE_CODE, &status);
  return status / 100 == 2 ? std::string{} : fmt::format("the server answered {}", status);
}

} // namespace

/// The attempts that run, and those that ended before they could.
class Courier::Transfers {
public:
  Transfers() : multi{curl_multi_init()} {}
  Transfers(const Transfers&) = delete;
  Transfers& operator=(const Transfers&) = delete;
  ~Transfers() {
    for (const auto& t : running) curl_multi_remove_handle(multi, t->easy);
    running.clear();
    curl_multi_cleanup(multi);
  }
  void start(std::unique_ptr<Transfer> t, const std::optional<std::string>& trouble) {
    if (trouble || curl_multi_add_handle(multi, t->easy) != CURLM_OK) {
      ended.push_back({t->key, trouble.value_or("libcurl does not take it")});
      return;
    }
    running.push_back(std::move(t));
  }
  void collect() {
    int left = 0;
    while (const CURLMsg* message = curl_multi_info_read(multi, &left)) {
      if (message->msg != CURLMSG_DONE) continue;
      const auto code = message->data.result;
      CURL* easy = message->easy_handle;
      const auto found =
          std::find_if(running.begin(), running.end(), [easy](const auto& t) { return t->easy == easy; });
      if (found == running.end()) continue;
      ended.push_back({(*found)->key, outcome_of(**found, code)});
      curl_multi_remove_handle(multi, easy);
      running.erase(found);
    }
  }

  CURLM* multi;
  std::list<std::unique_ptr<Transfer>> running;
  std::vector<Attempt> ended;
};

Courier::Courier() : aside_{[this] { wake(); }} {
  static const bool ready = [] { // once in a process, before its threads use it
    // A server that hangs up in the middle of TLS must not end the process; an error says it as well.
    return curl_global_init(CURL_GLOBAL_DEFAULT) == CURLE_OK && std::signal(SIGPIPE, SIG_IGN) != SIG_ERR;
  }();
  if (!ready) throw std::runtime_error{"libcurl cannot be used"};
  transfers_ = std::make_unique<Transfers>();
}
Courier::~Courier() = default;

void Courier::send(const config::NotifyRoute& route, const Parcel& parcel, const Publish& publish) {
  const auto done_at_once = [&](const std::optional<std::string>& trouble) {
    transfers_->ended.push_back({parcel.key, trouble.value_or("")});
  };
  const auto until = monotonic_now() + route.timeout;
  const std::chrono::duration<double> timeout = route.timeout;
  if (const auto* files = std::get_if<config::CapFilesRoute>(&route.kind))
    return aside_.send({parcel.key, files->directory, until,
                        fmt::format("{} has not taken the file within {} s; does its file system hang?",
                                    files->directory, timeout.count()),
                        [&](Aside::Done done) { files_.write(*files, parcel, std::move(done)); }});
  if (const auto* mqtt = std::get_if<config::MqttRoute>(&route.kind)) {
    if (!publish) return done_at_once("there is no broker: [mqtt] is missing");
    const auto topic = fmt::format("{}/{}", mqtt->topic, parcel.contact);
    return aside_.send({parcel.key, topic, until,
                        fmt::format("the broker has not acknowledged the message within {} s", timeout.count()),
                        [&](Aside::Done done) { publish(topic, parcel.payload, std::move(done)); }});
  }
  const auto* log = std::get_if<config::SyslogRoute>(&route.kind);
  if (log != nullptr && log->transport != config::SyslogRoute::Transport::tcp)
    return done_at_once(send_datagram(*log, parcel.payload));
  auto t = std::make_unique<Transfer>();
  t->key = parcel.key;
  const auto trouble = std::visit([&](const auto& kind) { return prepare(*t, route, kind, parcel); }, route.kind);
  transfers_->start(std::move(t), trouble);
}

void Courier::beat(const config::Watcher& watcher, std::uint64_t evaluations, const std::string& site) {
  auto t = std::make_unique<Transfer>();
  t->key = watcher_key;
  set_up(*t, watcher.url, watcher.timeout, watcher.ca_file);
  t->set(CURLOPT_PROTOCOLS_STR, "http,https");
  if (watcher.post) {
    post_body(*t, JsonObject{}.text("site", site).integer("evaluations", static_cast<std::int64_t>(evaluations)).str());
    t->header("Content-Type: application/json");
    t->set(CURLOPT_HTTPHEADER, t->headers);
  }
  transfers_->start(std::move(t), std::nullopt);
}

std::vector<Attempt> Courier::wait(std::chrono::milliseconds at_most) {
  int running = 0;
  const auto collect = [&] {
    curl_multi_perform(transfers_->multi, &running);
    transfers_->collect();
    for (auto& attempt : aside_.ended(monotonic_now())) transfers_->ended.push_back(std::move(attempt));
  };
  collect();
  if (transfers_->ended.empty()) {
    const auto now = monotonic_now();
    const auto patience = std::max<Monotonic>(aside_.deadline(now + at_most) - now, Monotonic{0});
    curl_multi_poll(transfers_->multi, nullptr, 0, static_cast<int>(patience.count()), nullptr);
    collect();
  }
  return std::exchange(transfers_->ended, {});
}

void Courier::wake() { curl_multi_wakeup(transfers_->multi); }

} // namespace oxherd::daemon::notify
