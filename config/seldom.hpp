#pragma once

#include <memory>
#include <optional>
#include <utility>

namespace oxherd::config {

/// A value that few of its many owners have, kept apart from them: those without one hold a pointer and not its room.
/// Copied and compared as a value.
template <class T> class Seldom {
public:
  Seldom() = default;
  Seldom(T value) : held_{std::make_unique<T>(std::move(value))} {}
  Seldom(const std::optional<T>& other) : held_{other ? std::make_unique<T>(*other) : nullptr} {}
  Seldom(const Seldom& other) : held_{other ? std::make_unique<T>(*other) : nullptr} {}
  Seldom(Seldom&&) noexcept = default;
  Seldom& operator=(Seldom other) noexcept {
    held_ = std::move(other.held_);
    return *this;
  }
  ~Seldom() = default;

  [[nodiscard]] explicit operator bool() const { return held_ != nullptr; }
  [[nodiscard]] bool has_value() const { return held_ != nullptr; }
  /// The value; undefined when there is none, as with std::optional.
  [[nodiscard]] const T& operator*() const { return *held_; }
  [[nodiscard]] T& operator*() { return *held_; }
  [[nodiscard]] const T* operator->() const { return held_.get(); }
  [[nodiscard]] T* operator->() { return held_.get(); }
  [[nodiscard]] T value_or(T other) const { return held_ ? *held_ : std::move(other); }
  [[nodiscard]] operator std::optional<T>() const { return held_ ? std::optional{*held_} : std::nullopt; }
  T& emplace() { return *(held_ = std::make_unique<T>()); }
  void reset() { held_.reset(); }

  friend bool operator==(const Seldom& a, const Seldom& b) {
    return a.has_value() == b.has_value() && (!a || *a == *b);
  }

private:
  std::unique_ptr<T> held_;
};

} // namespace oxherd::config
