#include "tests/simulation/drill/shrink.hpp"

#include <algorithm>
#include <sstream>

namespace oxherd::drill {
namespace {

/// "at 123.456 s: ...".
Monotonic time_of(const std::string& complaint) { return ms_of(std::stod(complaint.substr(3))); }

/// What is wrong, without the numbers in it: another failure than this is not what is shrunk.
std::string kind_of(const std::string& complaint) {
  std::string kind;
  for (const char c : complaint.substr(complaint.find(": ")))
    if ((c < '0' || c > '9') && c != '.' && c != ' ') kind += c;
  return kind.substr(0, 24);
}

/// Tries cuts and keeps the last one that failed.
class Shrinking {
public:
  Shrinking(const Script& script, int runs) : script_{script}, runs_left_{runs}, best_{whole(script)} {
    static_cast<void>(still_fails(best_));
  }
  [[nodiscard]] bool leave_out() {
    bool any = false;
    for (std::size_t piece = std::max<std::size_t>(best_.kept.size() / 2, 1); piece > 0; piece /= 2)
      for (std::size_t at = 0; at < best_.kept.size() && runs_left_ > 0;) {
        Cut less = best_;
        const auto from = less.kept.begin() + static_cast<std::ptrdiff_t>(at);
        less.kept.erase(from, from + static_cast<std::ptrdiff_t>(std::min(piece, less.kept.size() - at)));
        if (still_fails(less))
          any = true;
        else
          at += piece;
      }
    return any;
  }
  void halve() {
    for (std::size_t i = 0; i < best_.kept.size(); ++i)
      for (int more = 0; more < 10 && runs_left_ > 0; ++more) {
        Cut shorter = best_;
        ++shorter.kept[i].halved;
        if (!still_fails(shorter)) break;
      }
  }
  [[nodiscard]] const Cut& best() const { return best_; }

private:
  bool still_fails(Cut cut_to) {
    --runs_left_;
    const auto outcome = run(cut(script_, cut_to));
    if (outcome.complaints.empty()) return false;
    const auto kind = kind_of(outcome.complaints.front());
    if (kind_.empty()) kind_ = kind;
    if (kind != kind_) return false;
    cut_to.until = std::min(cut_to.until, time_of(outcome.complaints.front()) + Monotonic{1});
    best_ = std::move(cut_to);
    return true;
  }

  const Script& script_;
  int runs_left_;
  std::string kind_; ///< of the failure
  Cut best_;
};

} // namespace

Cut whole(const Script& script) {
  Cut all;
  for (std::size_t i = 0; i < script.story.size(); ++i) all.kept.push_back({i, 0});
  all.until = script.length;
  return all;
}

Script cut(const Script& script, const Cut& to) {
  Script less = script;
  less.story.clear();
  for (const auto& kept : to.kept) {
    less.story.push_back(script.story.at(kept.number));
    less.story.back().length /= 1 << kept.halved;
  }
  less.length = to.until;
  return less;
}

std::string only_text(const Cut& cut) {
  std::string text;
  for (const auto& kept : cut.kept)
    text += (text.empty() ? "" : ",") + std::to_string(kept.number) +
            (kept.halved > 0 ? "/" + std::to_string(kept.halved) : "");
  return text.empty() ? "none" : text;
}

std::vector<Cut::Kept> read_only(const std::string& text) {
  std::vector<Cut::Kept> kept;
  if (text == "none") return kept;
  std::istringstream in{text};
  for (std::string one; std::getline(in, one, ',');) {
    const auto slash = one.find('/');
    kept.push_back({std::stoul(one), slash == std::string::npos ? 0 : std::stoi(one.substr(slash + 1))});
  }
  return kept;
}

Cut shrunk(const Script& script, int runs_at_most) {
  Shrinking shrinking{script, runs_at_most};
  while (shrinking.leave_out()) {}
  shrinking.halve();
  return shrinking.best();
}

} // namespace oxherd::drill
