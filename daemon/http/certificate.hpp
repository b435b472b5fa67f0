#pragma once

#include <filesystem>
#include <memory>
#include <optional>
#include <string>

#include <boost/asio/ssl/context.hpp>

#include "config/settings.hpp"
#include "daemon/reading_basis.hpp"

namespace oxherd::daemon::http {

/// The site's certificate for TLS 1.2 and later, read again when its files change: a renewal needs no restart.
class Certificate {
public:
  /// @throws boost::system::system_error when the files cannot be used
  explicit Certificate(const config::Http& settings);

  /// For the next connection; null without TLS. Connections keep the one they began with.
  [[nodiscard]] boost::asio::ssl::context* context() const { return context_.get(); }
  [[nodiscard]] std::optional<WallTime> valid_until() const { return until_; }
  /// Takes the files up when they have changed. @return why they cannot be used; empty: nothing is wrong. The old
  /// certificate stays in use then.
  [[nodiscard]] std::string follow();

private:
  void read();

  const config::Http& settings_;
  std::unique_ptr<boost::asio::ssl::context> context_;
  std::optional<WallTime> until_;
  std::filesystem::file_time_type certificate_written_{}, key_written_{};
};

} // namespace oxherd::daemon::http
