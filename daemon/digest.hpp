#pragma once

#include <memory>
#include <string>
#include <string_view>

namespace oxherd::daemon {

/// SHA-256 of bytes that come in pieces.
/// @source FIPS 180-4, by way of libcrypto
class Digest {
public:
  Digest();
  ~Digest();
  Digest(const Digest&) = delete;
  Digest& operator=(const Digest&) = delete;
  void add(std::string_view bytes);
  /// The digest of all bytes so far in lower-case hexadecimal; nothing can be added afterwards.
  [[nodiscard]] std::string hex();

private:
  struct State;
  std::unique_ptr<State> state_;
};

/// The same of one text.
[[nodiscard]] std::string sha256_of(std::string_view text);

} // namespace oxherd::daemon
