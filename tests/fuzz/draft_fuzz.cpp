// Random bytes as a logger file of which a recipe is drafted: whatever stands in it, the draft is a recipe that loads,
// or that is refused for what is still to be filled in and never for how it is written.
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <string_view>

#include "daemon/logfile/draft.hpp"
#include "daemon/logfile/recipe.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace oxherd;
  const std::string_view text{reinterpret_cast<const char*>(data), size};
  const auto draft = daemon::logfile::draft_recipe(text, std::string{text.substr(0, 20)});
  if (!draft) return 0;
  const auto recipe = daemon::logfile::parse_recipe(*draft, "draft", "");
  if (recipe) return 0;
  for (const auto& problem : recipe.error()) {
    const auto words = config::to_string(problem);
    const auto has = [&words](std::string_view part) { return words.find(part) != words.npos; };
    const bool expected =
        has(": missing; write ") || has("time.format: is neither") || has(": needs the elevation; write ");
    if (expected) continue;
    std::fprintf(stderr, "%s\n%s\n", words.c_str(), draft->c_str());
    std::abort();
  }
  return 0;
}
