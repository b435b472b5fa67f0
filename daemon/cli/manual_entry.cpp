#include "daemon/cli/command.hpp"
#include "daemon/cli/manual.hpp"

namespace oxherd::daemon::cli {
namespace {

std::vector<Option> manual_options() { return {}; }

int run_manual(const Arguments&, Console& console) {
  console.out << manual_page();
  return fine;
}

} // namespace

const Command manual_entry{"manual",
                           "the manual page oxherd(1), as man reads it",
                           "Prints the manual page in roff, made from what each command says of itself. An installed "
                           "oxherd has it where man looks; `oxherd manual | man -l -` shows it without.",
                           "",
                           "oxherd manual\n",
                           manual_options,
                           run_manual};

} // namespace oxherd::daemon::cli
