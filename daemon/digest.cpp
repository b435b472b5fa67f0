#include "daemon/digest.hpp"

#include <array>
#include <stdexcept>

#include <fmt/format.h>
#include <openssl/evp.h>

namespace oxherd::daemon {

struct Digest::State {
  EVP_MD_CTX* context = EVP_MD_CTX_new();
};

Digest::Digest() : state_{std::make_unique<State>()} {
  if (state_->context == nullptr || EVP_DigestInit_ex(state_->context, EVP_sha256(), nullptr) != 1) {
    EVP_MD_CTX_free(state_->context);
    throw std::runtime_error{"libcrypto gives no SHA-256"};
  }
}

Digest::~Digest() { EVP_MD_CTX_free(state_->context); }

void Digest::add(std::string_view bytes) {
  if (EVP_DigestUpdate(state_->context, bytes.data(), bytes.size()) != 1)
    throw std::runtime_error{"libcrypto stopped in the middle of a SHA-256"};
}

std::string Digest::hex() {
  std::array<unsigned char, EVP_MAX_MD_SIZE> bytes{};
  unsigned length = 0;
  if (EVP_DigestFinal_ex(state_->context, bytes.data(), &length) != 1)
    throw std::runtime_error{"libcrypto did not finish a SHA-256"};
  return fmt::format("{:02x}", fmt::join(bytes.data(), bytes.data() + length, ""));
}

std::string sha256_of(std::string_view text) {
  Digest digest;
  digest.add(text);
  return digest.hex();
}

} // namespace oxherd::daemon
