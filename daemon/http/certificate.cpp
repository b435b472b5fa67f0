#include <utility> // before Asio: std::exchange

#include "daemon/http/certificate.hpp"

#include <ctime>

#include <boost/system/system_error.hpp>
#include <fmt/core.h>

namespace oxherd::daemon::http {
namespace {

namespace ssl = boost::asio::ssl;

std::filesystem::file_time_type written(const std::string& file) {
  std::error_code failed;
  const auto time = std::filesystem::last_write_time(file, failed);
  return failed ? std::filesystem::file_time_type{} : time;
}

std::optional<WallTime> end_of(ssl::context& context) {
  const auto* certificate = SSL_CTX_get0_certificate(context.native_handle());
  std::tm utc{};
  if (certificate == nullptr || ASN1_TIME_to_tm(X509_get0_notAfter(certificate), &utc) != 1) return std::nullopt;
  return WallTime{std::chrono::seconds{::timegm(&utc)}};
}

} // namespace

Certificate::Certificate(const config::Http& settings) : settings_{settings} {
  if (settings_.certificate_file) read();
}

void Certificate::read() {
  certificate_written_ = written(*settings_.certificate_file);
  key_written_ = written(*settings_.key_file);
  auto context = std::make_unique<ssl::context>(ssl::context::tls_server);
  context->set_options(ssl::context::default_workarounds | ssl::context::no_tlsv1 | ssl::context::no_tlsv1_1);
  context->use_certificate_chain_file(*settings_.certificate_file);
  context->use_private_key_file(*settings_.key_file, ssl::context::pem);
  until_ = end_of(*context);
  context_ = std::move(context);
}

std::string Certificate::follow() {
  if (!context_ ||
      (written(*settings_.certificate_file) == certificate_written_ && written(*settings_.key_file) == key_written_))
    return {};
  try {
    read();
    return {};
  } catch (const boost::system::system_error& e) {
    return fmt::format("{} with {} cannot be used, the certificate of before stays: {}", *settings_.certificate_file,
                       *settings_.key_file, e.what());
  }
}

} // namespace oxherd::daemon::http
