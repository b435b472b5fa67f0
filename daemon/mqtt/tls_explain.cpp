#include "daemon/mqtt/tls_explain.hpp"

#include <algorithm>
#include <cerrno>
#include <ctime>
#include <memory>
#include <string_view>
#include <system_error>
#include <variant>
#include <vector>

#include <arpa/inet.h>
#include <netdb.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <openssl/err.h>
#include <openssl/ssl.h>
#include <openssl/x509v3.h>

#include <fmt/format.h>

namespace oxherd::daemon {
namespace {

using ProbeClock = std::chrono::steady_clock;
constexpr std::chrono::milliseconds refusal_comes_within{300};

template <auto release> struct ReleasedBy {
  template <class T> void operator()(T* p) const { release(p); }
};
template <class T, auto release> using Owned = std::unique_ptr<T, ReleasedBy<release>>;

/// A socket that is closed when it goes.
struct ProbeSocket {
  explicit ProbeSocket(int opened) : descriptor{opened} {}
  ProbeSocket(ProbeSocket&& other) noexcept : descriptor{std::exchange(other.descriptor, -1)} {}
  ProbeSocket(const ProbeSocket&) = delete;
  ProbeSocket& operator=(const ProbeSocket&) = delete;
  ProbeSocket& operator=(ProbeSocket&&) = delete;
  ~ProbeSocket() {
    if (descriptor >= 0) ::close(descriptor);
  }
  int descriptor;
};

/// Whether the socket became ready before the deadline.
bool ready(int descriptor, short events, ProbeClock::time_point deadline) {
  for (;;) {
    const auto left = std::chrono::ceil<std::chrono::milliseconds>(deadline - ProbeClock::now());
    pollfd waited{descriptor, events, 0};
    const int got = ::poll(&waited, 1, static_cast<int>(std::max<std::int64_t>(left.count(), 0)));
    if (got > 0) return true;
    if (got == 0 || errno != EINTR) return false;
  }
}

/// Empty when connected, else the words.
std::string connect_within(int descriptor, const addrinfo& to, ProbeClock::time_point deadline) {
  if (::connect(descriptor, to.ai_addr, to.ai_addrlen) == 0) return {};
  if (errno != EINPROGRESS) return std::generic_category().message(errno);
  if (!ready(descriptor, POLLOUT, deadline)) return "no answer at all; check the address and the network";
  int error = 0;
  socklen_t size = sizeof error;
  ::getsockopt(descriptor, SOL_SOCKET, SO_ERROR, &error, &size);
  if (error == ECONNREFUSED) return "connection refused; is the broker running, and on this port?";
  return error == 0 ? std::string{} : std::generic_category().message(error);
}

std::variant<ProbeSocket, std::string> connected_socket(const BrokerAddress& broker, ProbeClock::time_point deadline) {
  addrinfo hints{};
  hints.ai_socktype = SOCK_STREAM;
  addrinfo* found = nullptr;
  const int resolved = ::getaddrinfo(broker.host.c_str(), std::to_string(broker.port).c_str(), &hints, &found);
  if (resolved != 0) return fmt::format("no address for \"{}\": {}", broker.host, ::gai_strerror(resolved));
  const Owned<addrinfo, ::freeaddrinfo> addresses{found};
  std::string why;
  for (const auto* to = addresses.get(); to != nullptr; to = to->ai_next) {
    ProbeSocket opened{::socket(to->ai_family, to->ai_socktype | SOCK_NONBLOCK | SOCK_CLOEXEC, to->ai_protocol)};
    if (opened.descriptor < 0) {
      why = std::generic_category().message(errno);
      continue;
    }
    why = connect_within(opened.descriptor, *to, deadline);
    if (why.empty()) return opened;
  }
  return why;
}

/// The earliest of the queued errors: the later ones only say which layer passed it on.
std::string openssl_words() {
  const auto code = ERR_peek_error();
  if (ERR_SYSTEM_ERROR(code)) return std::generic_category().message(ERR_GET_REASON(code));
  const char* reason = code == 0 ? nullptr : ERR_reason_error_string(code);
  return reason == nullptr ? "no reason given" : reason;
}

std::string day_of(const ASN1_TIME* time) {
  std::tm parts{};
  if (time == nullptr || ASN1_TIME_to_tm(time, &parts) != 1) return "an unreadable date";
  return fmt::format("{:04}-{:02}-{:02}", parts.tm_year + 1900, parts.tm_mon + 1, parts.tm_mday);
}

/// The names a certificate is made out for: the alternative names, or the common name of an old one.
std::string names_in(X509* certificate) {
  if (certificate == nullptr) return "no name at all";
  std::vector<std::string> names;
  const Owned<GENERAL_NAMES, GENERAL_NAMES_free> alternatives{
      static_cast<GENERAL_NAMES*>(X509_get_ext_d2i(certificate, NID_subject_alt_name, nullptr, nullptr))};
  for (int i = 0; alternatives && i < sk_GENERAL_NAME_num(alternatives.get()); ++i) {
    const auto* name = sk_GENERAL_NAME_value(alternatives.get(), i);
    const auto* value = name->type == GEN_DNS ? name->d.dNSName : name->type == GEN_IPADD ? name->d.iPAddress : nullptr;
    if (value == nullptr) continue;
    const auto* bytes = ASN1_STRING_get0_data(value);
    const auto length = static_cast<std::size_t>(ASN1_STRING_length(value));
    char address[INET6_ADDRSTRLEN] = {};
    if (name->type == GEN_DNS)
      names.emplace_back(bytes, bytes + length);
    else if (::inet_ntop(length == 4 ? AF_INET : AF_INET6, bytes, address, sizeof address) != nullptr)
      names.emplace_back(address);
  }
  char common[256] = {};
  if (names.empty() &&
      X509_NAME_get_text_by_NID(X509_get_subject_name(certificate), NID_commonName, common, sizeof common) > 0)
    names.emplace_back(common);
  return names.empty() ? "no name at all" : fmt::format("{}", fmt::join(names, ", "));
}

/// What the verification stumbled over. It must be noted on the spot: a session that was refused has no certificate.
struct VerifyFault {
  int error = X509_V_OK;
  Owned<X509, X509_free> certificate;
};

int note_fault(int fine, X509_STORE_CTX* verification) {
  if (fine == 1) return fine;
  auto* session = static_cast<SSL*>(X509_STORE_CTX_get_ex_data(verification, SSL_get_ex_data_X509_STORE_CTX_idx()));
  auto* fault = static_cast<VerifyFault*>(SSL_get_ex_data(session, 0));
  fault->error = X509_STORE_CTX_get_error(verification);
  auto* at_fault = X509_STORE_CTX_get_current_cert(verification);
  if (at_fault != nullptr && X509_up_ref(at_fault) == 1) fault->certificate.reset(at_fault);
  return 0;
}

std::string verification_words(const VerifyFault& fault, const BrokerAddress& broker) {
  auto* certificate = fault.certificate.get();
  switch (fault.error) {
  case X509_V_ERR_CERT_HAS_EXPIRED:
    return fmt::format("the certificate of the broker, or of its authority, expired on {} ({}); renew it",
                       day_of(certificate == nullptr ? nullptr : X509_get0_notAfter(certificate)),
                       names_in(certificate));
  case X509_V_ERR_CERT_NOT_YET_VALID:
    return fmt::format("the certificate of the broker, or of its authority, is valid only from {} on ({}); is this "
                       "machine's clock right?",
                       day_of(certificate == nullptr ? nullptr : X509_get0_notBefore(certificate)),
                       names_in(certificate));
  case X509_V_ERR_HOSTNAME_MISMATCH:
  case X509_V_ERR_IP_ADDRESS_MISMATCH:
    return fmt::format("the certificate of the broker is for another name: \"{}\" is asked for, it names {}; write a "
                       "name it has into mqtt.broker",
                       broker.host, names_in(certificate));
  case X509_V_ERR_UNABLE_TO_GET_ISSUER_CERT:
  case X509_V_ERR_UNABLE_TO_GET_ISSUER_CERT_LOCALLY:
  case X509_V_ERR_UNABLE_TO_VERIFY_LEAF_SIGNATURE:
  case X509_V_ERR_SELF_SIGNED_CERT_IN_CHAIN:
  case X509_V_ERR_DEPTH_ZERO_SELF_SIGNED_CERT:
  case X509_V_ERR_CERT_SIGNATURE_FAILURE:
    return fmt::format("the certificate of the broker is not signed by an authority trusted here ({}); is mqtt.ca_file "
                       "the right one?",
                       X509_verify_cert_error_string(fault.error));
  default:
    return fmt::format("the certificate of the broker is refused: {}", X509_verify_cert_error_string(fault.error));
  }
}

/// Empty when the files could be loaded, else the words.
std::string load_files(SSL_CTX* context, const TlsFiles& files) {
  const bool trusted = files.ca_file ? SSL_CTX_load_verify_file(context, files.ca_file->c_str()) == 1
                                     : SSL_CTX_set_default_verify_paths(context) == 1;
  if (!trusted) return fmt::format("mqtt.ca_file: {}: {}", files.ca_file.value_or("of the system"), openssl_words());
  if (files.certificate_file && SSL_CTX_use_certificate_chain_file(context, files.certificate_file->c_str()) != 1)
    return fmt::format("mqtt.certificate_file: {}: {}", *files.certificate_file, openssl_words());
  if (files.key_file && SSL_CTX_use_PrivateKey_file(context, files.key_file->c_str(), SSL_FILETYPE_PEM) != 1)
    return fmt::format("mqtt.key_file: {}: {}", *files.key_file, openssl_words());
  return {};
}

/// Whether the name the certificate must have could be set: an address is matched as such, all else as a host name.
bool expect_name(SSL* session, const std::string& host) {
  auto* parameters = SSL_get0_param(session);
  if (X509_VERIFY_PARAM_set1_ip_asc(parameters, host.c_str()) == 1) return true;
  // What the macro SSL_set_tlsext_host_name does, without its old-style cast.
  const bool named =
      SSL_ctrl(session, SSL_CTRL_SET_TLSEXT_HOSTNAME, TLSEXT_NAMETYPE_host_name, const_cast<char*>(host.c_str())) == 1;
  return named && SSL_set1_host(session, host.c_str()) == 1;
}

/// A TLS 1.3 broker refuses our certificate, or its absence, only after the handshake has ended for us. Empty when it
/// says nothing for a moment, as a broker does that waits for CONNECT.
std::string late_refusal(SSL* session, int descriptor, ProbeClock::time_point deadline) {
  char first = 0;
  for (;;) {
    ERR_clear_error();
    const int got = SSL_peek(session, &first, 1);
    const int wants = SSL_get_error(session, got);
    if (wants == SSL_ERROR_WANT_READ && ready(descriptor, POLLIN, deadline)) continue;
    if (wants != SSL_ERROR_SSL) return {};
    return fmt::format("the broker ends TLS: {}; does it want mqtt.certificate_file and mqtt.key_file?",
                       openssl_words());
  }
}

std::string handshake(int descriptor, const BrokerAddress& broker, const TlsFiles& files,
                      ProbeClock::time_point deadline) {
  ERR_clear_error();
  const Owned<SSL_CTX, SSL_CTX_free> context{SSL_CTX_new(TLS_client_method())};
  if (!context || SSL_CTX_set_min_proto_version(context.get(), TLS1_2_VERSION) != 1) return openssl_words();
  if (auto why = load_files(context.get(), files); !why.empty()) return why;
  SSL_CTX_set_verify(context.get(), SSL_VERIFY_PEER, note_fault);
  VerifyFault fault;
  const Owned<SSL, SSL_free> session{SSL_new(context.get())};
  const bool prepared = session && expect_name(session.get(), broker.host) &&
                        SSL_set_ex_data(session.get(), 0, &fault) == 1 && SSL_set_fd(session.get(), descriptor) == 1;
  if (!prepared) return openssl_words();
  for (;;) {
    ERR_clear_error();
    const int done = SSL_connect(session.get());
    if (done == 1) break;
    const int wants = SSL_get_error(session.get(), done);
    if (wants == SSL_ERROR_WANT_READ || wants == SSL_ERROR_WANT_WRITE) {
      if (ready(descriptor, wants == SSL_ERROR_WANT_READ ? POLLIN : POLLOUT, deadline)) continue;
      return "connected, but no TLS answer; is this a TLS port, and is the broker alive?";
    }
    if (fault.error != X509_V_OK) return verification_words(fault, broker);
    return fmt::format("TLS failed: {}; is this a TLS port?", openssl_words());
  }
  return late_refusal(session.get(), descriptor, std::min(deadline, ProbeClock::now() + refusal_comes_within));
}

} // namespace

std::string why_unreachable(const BrokerAddress& broker, const TlsFiles& files, std::chrono::milliseconds patience) {
  const auto deadline = ProbeClock::now() + patience;
  const auto opened = connected_socket(broker, deadline);
  if (const auto* why = std::get_if<std::string>(&opened)) return *why;
  if (!broker.tls) return {};
  return handshake(std::get<ProbeSocket>(opened).descriptor, broker, files, deadline);
}

} // namespace oxherd::daemon
