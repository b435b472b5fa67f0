#include <algorithm>
#include <cstdio>
#include <exception>
#include <string>
#include <vector>

#include "daemon/cli/commands.hpp"
#include "daemon/cli/console.hpp"

int main(int argc, char** argv) {
  try {
    auto console = oxherd::daemon::cli::process_console();
    const int code =
        oxherd::daemon::cli::run_command_line(std::vector<std::string>{argv + std::min(argc, 1), argv + argc}, console);
    console.out.flush();
    // A full disk or a closed pipe must not look like success to a script.
    return console.out.good() || code != 0 ? code : 1;
  } catch (const std::exception& trouble) {
    std::fprintf(stderr, "oxherd: %s\n", trouble.what());
    return 1;
  }
}
