#pragma once

#include <string>
#include <string_view>
#include <thread>
#include <utility>

#include <pthread.h>

namespace oxherd::daemon {

/// A thread with a name that `top -H`, `ps -L` and a debugger show, so that a busy or a stuck one can be told from the
/// others. The system keeps 15 bytes of it.
template <typename Body> [[nodiscard]] std::thread named_thread(std::string_view name, Body body) {
  return std::thread{[name = std::string{name.substr(0, 15)}, body = std::move(body)]() mutable {
    ::pthread_setname_np(::pthread_self(), name.c_str()); // fails for longer names only
    body();
  }};
}

} // namespace oxherd::daemon
