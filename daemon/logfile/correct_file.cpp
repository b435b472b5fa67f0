#include "daemon/logfile/correct_file.hpp"

#include <algorithm>
#include <chrono>

#include <fmt/core.h>

#include "alarms/texts.hpp"
#include "config/load.hpp"
#include "daemon/logfile/corrector.hpp"
#include "daemon/logfile/output_file.hpp"
#include "daemon/logfile/record.hpp"

namespace oxherd::daemon::logfile {
namespace {

constexpr std::size_t flush_bytes = 1U << 18U; // small enough to stay in the cache until it is written

/// One run: input, output and what lies between them.
class Run {
public:
  Run(const Recipe& recipe, const Correction& wanted) : recipe_{recipe}, wanted_{wanted} {}
  [[nodiscard]] tl::expected<Summary, Failure> all();

private:
  [[nodiscard]] tl::expected<void, Failure> open();
  [[nodiscard]] tl::expected<void, Failure> refuse_same_file() const;
  [[nodiscard]] tl::expected<void, Failure> refuse_doubled_names() const;
  [[nodiscard]] tl::expected<void, Failure> start();
  [[nodiscard]] tl::expected<void, Failure> rows();
  [[nodiscard]] tl::expected<void, Failure> flush();
  [[nodiscard]] tl::expected<void, Failure> finish();
  void add_caution_lines();

  const Recipe& recipe_;
  const Correction& wanted_;
  Summary summary_;
  std::unique_ptr<FileSource> source_;
  std::unique_ptr<AmbientFollower> ambient_;
  std::unique_ptr<OutputFile> output_;
  std::unique_ptr<OutputFile> record_;
  std::optional<RowReader> reader_;
  Layout layout_;
  std::optional<Corrector> corrector_;
  std::string out_;
  Row row_;
};

tl::expected<void, Failure> Run::refuse_same_file() const {
  for (const auto& name : {wanted_.output, wanted_.record}) {
    if (name.empty() || name == "-") continue;
    const auto there = identity_of(name);
    if (!there) continue;
    if (*there == source_->identity())
      return tl::unexpected(Failure{fmt::format("{}: is the input itself; name another file for the output", name)});
    const bool is_recipe = there == identity_of(recipe_.name);
    const bool is_ambient = recipe_.ambient && there == identity_of(recipe_.ambient->file.string());
    if (is_recipe || is_ambient)
      return tl::unexpected(Failure{
          fmt::format("{}: is the {}; name another file for the output", name, is_recipe ? "recipe" : "second file")});
  }
  return {};
}

/// A file that was corrected before must not get a second column of the same name.
tl::expected<void, Failure> Run::refuse_doubled_names() const {
  for (const auto added : recipe_.output.columns) {
    const auto name = recipe_.output.prefix + std::string{column_of(added).header};
    if (std::find(layout_.names.begin(), layout_.names.end(), name) == layout_.names.end()) continue;
    return tl::unexpected(Failure{fmt::format("{}: has a column \"{}\" already; was it corrected before? If that is "
                                              "meant, give the new columns a prefix under [output] in {}",
                                              wanted_.input, name, recipe_.name)});
  }
  return {};
}

tl::expected<void, Failure> Run::open() {
  auto source = FileSource::open(wanted_.input);
  if (!source) return tl::unexpected(source.error());
  source_ = std::move(*source);
  if (const auto other = refuse_same_file(); !other) return other;
  reader_.emplace(*source_, wanted_.input == "-" ? "standard input" : wanted_.input);
  const auto text = reader_->first_bytes();
  if (!text) return tl::unexpected(text.error());
  const auto layout = find_layout(*text, wanted_.input, recipe_.format, wanted_of(recipe_, Source::From::column));
  if (!layout) return tl::unexpected(layout.error());
  layout_ = *layout;
  if (const auto names = refuse_doubled_names(); !names) return names;
  const bool follows = std::any_of(recipe_.sources.begin(), recipe_.sources.end(), [](const auto& source_of) {
    return source_of && source_of->from == Source::From::ambient;
  });
  if (follows) {
    auto ambient = AmbientFollower::open(recipe_);
    if (!ambient) return tl::unexpected(ambient.error());
    ambient_ = std::move(*ambient);
  }
  auto output = OutputFile::create(wanted_.output, wanted_.force);
  if (!output) return tl::unexpected(output.error());
  output_ = std::move(*output);
  if (wanted_.record.empty()) return {};
  auto record = OutputFile::create(wanted_.record, wanted_.force);
  if (!record) return tl::unexpected(record.error());
  record_ = std::move(*record);
  return {};
}

void Run::add_caution_lines() {
  const auto mark = recipe_.format.comment.empty() ? std::string{"#"} : recipe_.format.comment;
  const auto first = reader_->first_line_end();
  out_ += fmt::format("{} {}{}", mark, alarms::caution_long(), first);
}

tl::expected<void, Failure> Run::start() {
  out_.reserve(2 * flush_bytes);
  out_ += reader_->mark();
  if (recipe_.output.caution_lines) add_caution_lines();
  corrector_.emplace(recipe_, layout_, ambient_.get(), summary_);
  return pass_start(*reader_, layout_, row_, [this](const Row& row, LineKind kind) {
    if (kind == LineKind::header) summary_.header_line = static_cast<int>(row.line);
    if (kind != LineKind::kept) return corrector_->add_header(row, kind, out_);
    out_ += row.bytes;
    out_ += row.line_end;
    summary_.other_lines += row.unfinished ? 0 : 1;
  });
}

tl::expected<void, Failure> Run::flush() {
  if (const auto written = output_->write(out_); !written) return written;
  out_.clear();
  if (wanted_.progress && !wanted_.progress({source_->bytes_read(), source_->size()}))
    return tl::unexpected(Failure{fmt::format("{}: stopped before the end; nothing is left of it", wanted_.output)});
  return {};
}

tl::expected<void, Failure> Run::rows() {
  while (true) {
    const auto more = reader_->next(row_);
    if (!more) return tl::unexpected(more.error());
    if (!*more) break;
    if (const auto added = corrector_->add(row_, out_); !added) return added;
    if (out_.size() < flush_bytes) continue;
    if (const auto flushed = flush(); !flushed) return flushed;
  }
  corrector_->flush(out_);
  return {};
}

tl::expected<void, Failure> Run::finish() {
  if (const auto flushed = flush(); !flushed) return flushed;
  summary_.dialect = layout_.dialect;
  summary_.input = wanted_.input;
  summary_.output = wanted_.output;
  summary_.recipe = recipe_.name;
  summary_.input_sha256 = source_->sha256();
  summary_.bytes_in = source_->bytes_read();
  summary_.output_sha256 = output_->sha256();
  summary_.bytes_out = output_->bytes_written();
  for (const auto& warning : recipe_.warnings) summary_.warnings.push_back(config::to_string(warning));
  if (ambient_) {
    if (const auto read = ambient_->finish(); !read) return read;
    auto& second = ambient_->source();
    summary_.ambient = Summary::SecondFile{ambient_->name(), second.sha256(), second.bytes_read(), ambient_->counts()};
  }
  if (record_) {
    const auto text = record_json(recipe_, wanted_, summary_);
    if (const auto written = record_->write(text + '\n'); !written) return written;
  }
  if (const auto done = output_->finish(); !done) return done;
  return record_ ? record_->finish() : tl::expected<void, Failure>{};
}

tl::expected<Summary, Failure> Run::all() {
  const auto begun = std::chrono::steady_clock::now();
  for (const auto step : {&Run::open, &Run::start, &Run::rows, &Run::finish})
    if (const auto done = (this->*step)(); !done) return tl::unexpected(done.error());
  summary_.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
  return std::move(summary_);
}

} // namespace

tl::expected<Summary, Failure> correct_file(const Recipe& recipe, const Correction& correction) {
  return Run{recipe, correction}.all();
}

} // namespace oxherd::daemon::logfile
