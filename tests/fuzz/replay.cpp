// Runs one fuzz target over the inputs that are kept, over their beginnings, and over a number of random changes of
// them: what once was found stays found, and a parser that a change has broken is noticed without libFuzzer. The random
// changes are the same each time unless OXHERD_SEED is set; tests/fuzz/run looks for new faults.
//
//     fuzz_replay TARGET FOLDER LIST
//
// FOLDER holds kept inputs, LIST names further ones, a path from the top of the sources a line; either may be missing.
// A target ends the program when a promise is broken; the input is then in fuzz_replay.TARGET.input.
#include <algorithm>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <map>
#include <random>
#include <string>
#include <string_view>
#include <vector>

#define FUZZ_TARGET(name) extern "C" int name(const std::uint8_t* data, std::size_t size);
#include "tests/fuzz/targets.inc"
#undef FUZZ_TARGET

namespace {

using Target = int (*)(const std::uint8_t*, std::size_t);
const std::map<std::string_view, Target> targets{
#define FUZZ_TARGET(name) {#name, name},
#include "tests/fuzz/targets.inc"
#undef FUZZ_TARGET
};

constexpr int beginnings = 200, changes = 2000; // of each input, and of all together

std::string read_file(const std::filesystem::path& path) {
  std::ifstream in{path, std::ios::binary};
  return {std::istreambuf_iterator<char>{in}, {}};
}

std::vector<std::string> kept_inputs(const std::filesystem::path& folder, const std::filesystem::path& list) {
  std::vector<std::filesystem::path> paths;
  if (std::filesystem::is_directory(folder))
    for (const auto& entry : std::filesystem::directory_iterator{folder}) paths.push_back(entry.path());
  std::ifstream lines{list};
  for (std::string line; std::getline(lines, line);)
    if (!line.empty()) paths.emplace_back(line);
  std::sort(paths.begin(), paths.end());
  std::vector<std::string> inputs{std::string{}};
  for (const auto& path : paths) {
    if (!std::filesystem::is_regular_file(path)) {
      std::fprintf(stderr, "%s is no file\n", path.c_str());
      std::exit(2);
    }
    inputs.push_back(read_file(path));
  }
  return inputs;
}

/// A few bytes set, cut out, doubled, or taken from another input.
std::string changed(std::string text, const std::vector<std::string>& inputs, std::mt19937_64& random) {
  const auto below = [&](std::size_t n) {
    return n == 0 ? 0 : std::uniform_int_distribution<std::size_t>{0, n - 1}(random);
  };
  for (std::size_t i = 1 + below(4); i > 0; --i) {
    const auto at = below(text.size() + 1);
    const auto length = below(std::min<std::size_t>(16, text.size() - at) + 1);
    switch (below(4)) {
    case 0:
      if (at < text.size()) text[at] = static_cast<char>(below(256));
      break;
    case 1: text.erase(at, length); break;
    case 2: text.insert(at, text.substr(at, length)); break;
    default: {
      const auto& other = inputs[below(inputs.size())];
      text.insert(at, other.substr(below(other.size() + 1), 1 + below(24)));
    }
    }
  }
  return text;
}

} // namespace

int main(int count, char** arguments) {
  if (count != 4 || !targets.contains(arguments[1])) {
    std::fprintf(stderr, "usage: fuzz_replay TARGET FOLDER LIST\n");
    return 2;
  }
  const auto target = targets.at(arguments[1]);
  const auto kept = std::filesystem::temp_directory_path() / (std::string{"fuzz_replay."} + arguments[1] + ".input");
  const auto run = [&](const std::string& input) {
    // Written first: a target that ends the program leaves its input behind.
    std::ofstream{kept, std::ios::binary | std::ios::trunc} << input;
    target(reinterpret_cast<const std::uint8_t*>(input.data()), input.size());
  };
  const auto inputs = kept_inputs(arguments[2], arguments[3]);
  int runs = 0;
  for (const auto& input : inputs) {
    run(input), ++runs;
    const auto step = std::max<std::size_t>(1, input.size() / beginnings);
    for (std::size_t end = 1; end < input.size(); end += step) run(input.substr(0, end)), ++runs;
  }
  const char* seed = std::getenv("OXHERD_SEED");
  std::mt19937_64 random{seed == nullptr ? 20240229u : std::strtoull(seed, nullptr, 10)};
  for (int i = 0; i < changes; ++i, ++runs)
    run(changed(inputs[std::uniform_int_distribution<std::size_t>{0, inputs.size() - 1}(random)], inputs, random));
  std::filesystem::remove(kept);
  std::printf("%s: %d inputs, %zu of them kept\n", arguments[1], runs, inputs.size() - 1);
  return inputs.size() > 1 ? 0 : 1; // a target without a kept input tests next to nothing
}
