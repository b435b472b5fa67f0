#include "daemon/store/chain_findings.hpp"

#include <algorithm>
#include <charconv>

#include <fmt/core.h>

#include "daemon/store/schema.hpp"

namespace oxherd::daemon {
namespace {

using store::Database;
using store::DbError;
using store::LinkKind;

class Examination {
public:
  Examination(Database& database, const std::optional<ChainHead>& noted, const std::function<void(double)>& progress)
      : database_{database}, noted_{noted}, progress_{progress} {}

  tl::expected<ChainFindings, DbError> run() {
    // One transaction: what is written meanwhile is not half seen.
    for (const auto step : {&Examination::begin, &Examination::count, &Examination::follow, &Examination::find_unlinked,
                            &Examination::look_for_noted})
      if (auto done = (this->*step)(); !done) return tl::unexpected(done.error());
    return std::move(findings_);
  }

private:
  using Done = tl::expected<void, DbError>;

  Done begin() {
    if (auto begun = database_.run("BEGIN"); !begun) return begun;
    const auto chains = database_.integer("SELECT count(*) FROM sqlite_schema WHERE name = 'chain'");
    if (!chains) return tl::unexpected(chains.error());
    if (*chains == 0)
      return tl::unexpected(DbError{store::Trouble::other,
                                    "the journal was written by a version of oxherd that made no chain: start this "
                                    "version's daemon once, it links what is there"});
    return {};
  }

  Done count() {
    auto row = database_.prepare("SELECT count(*), min(at), max(at), (SELECT count(*) FROM calibration_record), "
                                 "(SELECT count(*) FROM chain) FROM journal");
    if (!row) return tl::unexpected(row.error());
    const auto there = row->step();
    if (!there) return tl::unexpected(there.error());
    const auto time = [](std::optional<std::int64_t> ms) {
      return ms ? std::optional{WallTime{std::chrono::milliseconds{*ms}}} : std::nullopt;
    };
    findings_.journal_lines = row->integer(0);
    findings_.first = time(row->optional_integer(1));
    findings_.last = time(row->optional_integer(2));
    findings_.calibration_records = row->integer(3);
    links_ = row->integer(4);
    return {};
  }

  Done follow() {
    auto links = database_.prepare("SELECT position, kind, number, hash FROM chain ORDER BY position");
    auto journal = database_.prepare(store::linked_row_sql(LinkKind::journal));
    auto calibration = database_.prepare(store::linked_row_sql(LinkKind::calibration));
    for (auto* one : {&links, &journal, &calibration})
      if (!*one) return tl::unexpected(one->error());
    ChainHead head{0, std::string{store::chain_beginning}};
    for (std::int64_t seen = 0;; ++seen) {
      const auto row = links->step();
      if (!row) return tl::unexpected(row.error());
      if (!*row) break;
      if (progress_ && seen % 1000 == 0) progress_(static_cast<double>(seen) / static_cast<double>(links_));
      const auto position = links->integer(0), number = links->integer(2);
      if (position != head.position + 1)
        tell({}, head.position + 1,
             fmt::format("links {} to {} are missing: what they stood for was taken out", head.position + 1,
                         position - 1));
      const auto kind = links->text(1) == store::name_of(LinkKind::journal) ? LinkKind::journal : LinkKind::calibration;
      ChainHead next{position, links->text(3)};
      // The former hash as it is written, not as it should be: each break is told once.
      if (auto done = compare(kind == LinkKind::journal ? *journal : *calibration, kind, number, head, next); !done)
        return done;
      head = std::move(next);
      if (noted_ && noted_->position == head.position) noted_found_ = noted_->hash == head.hash;
    }
    if (head.position > 0) findings_.head = std::move(head);
    return {};
  }

  Done compare(store::Statement& row, LinkKind kind, std::int64_t number, const ChainHead& former,
               const ChainHead& link) {
    const auto there = row.bind(1, number).step();
    if (!there) return tl::unexpected(there.error());
    if (!*there)
      tell(store::name_of(kind), number, "was taken out after it was written");
    else if (former.position + 1 == link.position && store::link_hash(former.hash, kind, row.row_bytes()) != link.hash)
      tell(store::name_of(kind), number, "was changed after it was written, or its link was");
    row.reset();
    return {};
  }

  Done find_unlinked() {
    for (const auto kind : store::all_link_kinds) {
      const bool journal = kind == LinkKind::journal;
      auto rows = database_.prepare(fmt::format(
          "SELECT {0} FROM {1} WHERE NOT EXISTS (SELECT 1 FROM chain WHERE kind = '{2}' AND number = {0}) ORDER BY {0}",
          journal ? "sequence" : "number", journal ? "journal" : "calibration_record", store::name_of(kind)));
      if (!rows) return tl::unexpected(rows.error());
      for (;;) {
        const auto row = rows->step();
        if (!row) return tl::unexpected(row.error());
        if (!*row) break;
        tell(store::name_of(kind), rows->integer(0), "is in no link: it was put in by something else than oxherd");
      }
    }
    return {};
  }

  Done look_for_noted() {
    if (!noted_ || noted_found_ == true) return {};
    tell({}, noted_->position,
         noted_found_.has_value() || (findings_.head && findings_.head->position >= noted_->position)
             ? "is not as it was noted: the chain was made anew from before it on"
             : "is not reached: the end of the chain that was noted is cut off");
    return {};
  }

  void tell(std::string_view kind, std::int64_t number, std::string what) {
    ++findings_.break_count;
    if (findings_.breaks.size() < breaks_told) findings_.breaks.push_back({std::string{kind}, number, std::move(what)});
  }

  Database& database_;
  const std::optional<ChainHead>& noted_;
  const std::function<void(double)>& progress_;
  ChainFindings findings_;
  std::int64_t links_ = 0;
  std::optional<bool> noted_found_; ///< whether the link at the noted position has the noted hash; empty: not reached
};

} // namespace

std::optional<ChainHead> chain_head_from(std::string_view text) {
  ChainHead head;
  const auto* const end = text.data() + text.size();
  const auto number = std::from_chars(text.data(), end, head.position);
  if (number.ec != std::errc{} || number.ptr == end || *number.ptr != ':' || head.position < 1) return std::nullopt;
  head.hash.assign(number.ptr + 1, end);
  const auto is_hex = [](char c) { return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f'); };
  if (head.hash.size() != store::chain_beginning.size() || !std::all_of(head.hash.begin(), head.hash.end(), is_hex))
    return std::nullopt;
  return head;
}

std::string text_of(const ChainHead& head) { return fmt::format("{}:{}", head.position, head.hash); }

tl::expected<ChainFindings, StoreError> examine_chain(const std::filesystem::path& state_dir,
                                                      const std::optional<ChainHead>& noted,
                                                      const std::function<void(double)>& progress) {
  auto database = store::open_for_reading(state_dir, store::journal_schema());
  if (!database) return tl::unexpected(StoreError{database.error().what});
  auto found = Examination{*database, noted, progress}.run();
  if (!found) return tl::unexpected(StoreError{found.error().what});
  return std::move(*found);
}

} // namespace oxherd::daemon
