#include "tests/drivers/child_process.hpp"

#include <array>
#include <chrono>
#include <csignal>
#include <stdexcept>

#include <fcntl.h>
#include <poll.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

namespace oxherd::drivers_test {

ChildProcess::ChildProcess(const std::vector<std::string>& command) {
  std::vector<char*> arguments;
  for (const std::string& word : command) arguments.push_back(const_cast<char*>(word.c_str()));
  arguments.push_back(nullptr);
  std::array<int, 2> ends{};
  if (::pipe2(ends.data(), O_CLOEXEC) != 0) throw std::runtime_error{"no pipe"};
  pipe_ = drivers::FileDescriptor{ends[0]};
  const drivers::FileDescriptor childs_end{ends[1]};
  pid_ = ::fork();
  if (pid_ < 0) throw std::runtime_error{"no process"};
  if (pid_ > 0) return;
  ::prctl(PR_SET_PDEATHSIG, SIGKILL);
  ::dup2(ends[1], STDOUT_FILENO);
  ::dup2(ends[1], STDERR_FILENO);
  ::execvp(arguments[0], arguments.data());
  ::_exit(127);
}

ChildProcess::~ChildProcess() {
  ::kill(pid_, SIGKILL);
  ::waitpid(pid_, nullptr, 0);
}

std::string ChildProcess::wait_for_line(const std::string& words) {
  const drivers::StopEvent never;
  const auto deadline = std::chrono::steady_clock::now() + std::chrono::seconds{20};
  for (;;) {
    for (auto end = output_.find('\n', looked_at_); end != std::string::npos; end = output_.find('\n', looked_at_)) {
      const std::string line = output_.substr(looked_at_, end - looked_at_);
      looked_at_ = end + 1;
      if (line.find(words) != std::string::npos) return line;
    }
    if (wait_until(pipe_.get(), POLLIN, never, deadline) != drivers::Waited::ready) return {};
    std::array<char, 1024> chunk{};
    const auto got = ::read(pipe_.get(), chunk.data(), chunk.size());
    if (got <= 0) return {};
    output_.append(chunk.data(), static_cast<std::size_t>(got));
  }
}

} // namespace oxherd::drivers_test
