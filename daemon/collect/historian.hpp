#pragma once

#include <chrono>
#include <cstdint>
#include <map>
#include <memory>
#include <set>
#include <string>
#include <unordered_map>
#include <vector>

#include "daemon/collect/message.hpp"
#include "daemon/collect/settings.hpp"

namespace pqxx {
class connection_base;
class transaction_base;
} // namespace pqxx

namespace oxherd::daemon::collect {

/// A message that is understood, with what the broker said of it.
struct Heard {
  Told told;
  bool retained = false; ///< it stood before: no sign that the site lives
  SampleTime at;         ///< when it came
};

struct Written {
  std::uint64_t samples = 0;   ///< that were not there yet
  std::uint64_t again = 0;     ///< that were there already, with the same value
  std::uint64_t differing = 0; ///< of the same channel and time as one that is there, with another value: left out
};

/// Why the database did not take something.
struct HistorianError {
  bool by_content = false; ///< it is what was to be written; else trying again later may help
  std::string what;
};

/// The records of all sites in PostgreSQL, on one connection. After an error that is not by content it is of no more
/// use; make a new one. Used from one thread.
class Historian {
public:
  /// Connects and brings the schema up to date.
  [[nodiscard]] static tl::expected<std::unique_ptr<Historian>, HistorianError> open(const DatabaseSettings& database);
  ~Historian();
  Historian(const Historian&) = delete;
  Historian& operator=(const Historian&) = delete;

  /// Everything in one transaction; once it returns a result, all of it is on the disk of the database. Writing the
  /// same again changes nothing.
  [[nodiscard]] tl::expected<Written, HistorianError> write(const std::vector<Heard>& messages);

private:
  class Batch;
  explicit Historian(std::shared_ptr<pqxx::connection_base> connection);
  void migrate();
  int site_id(pqxx::transaction_base& work, const std::string& name);
  int channel_id(pqxx::transaction_base& work, const std::string& site, const Sample& sample);
  void make_partitions(pqxx::transaction_base& work, SampleTime at);
  Written write_samples(pqxx::transaction_base& work, const std::vector<Heard>& messages);
  void write_rest(pqxx::transaction_base& work, const std::vector<Heard>& messages);

  std::shared_ptr<pqxx::connection_base>
      connection_; ///< shared_ptr knows how to end it: the base has no virtual destructor
  std::map<std::string, int> sites_;
  std::unordered_map<std::string, int> channels_;
  std::set<std::int64_t> months_; ///< whose partitions there are, since year 0
  std::string key_;               ///< of channels_, kept for its memory
};

} // namespace oxherd::daemon::collect
