#pragma once

#include <unordered_map>

#include "daemon/reading_basis.hpp"
#include "daemon/store/sqlite.hpp"

namespace oxherd::daemon::store {

/// Writes what oxygen readings were formed from, and the bases they rest on, each basis once. Inside the caller's
/// transaction.
class OxygenInputWriter {
public:
  [[nodiscard]] static tl::expected<OxygenInputWriter, DbError> prepared(Database& database);

  /// @param reading  rowid in the table `reading`
  [[nodiscard]] tl::expected<void, DbError> insert(Database& database, std::int64_t reading, const OxygenInputs& inputs,
                                                   const SharedBasis& basis);
  [[nodiscard]] tl::expected<std::int64_t, DbError> basis_id(Database& database, const SharedBasis& basis);
  void forget() { known_.clear(); } ///< after a rollback: ids given in it do not exist

private:
  struct Known {
    SharedBasis basis; ///< keeps the address from being used for another basis
    std::int64_t id = 0;
  };
  OxygenInputWriter(Statement input, Statement add, Statement find)
      : input_{std::move(input)}, add_basis_{std::move(add)}, find_basis_{std::move(find)} {}

  Statement input_, add_basis_, find_basis_;
  std::unordered_map<const ReadingBasis*, Known> known_;
};

/// Reads a row of `oxygen_input` whose columns from `first` on are: input, u_input, zeros, the eight gas columns, and
/// the three kinds of reasons.
[[nodiscard]] tl::expected<OxygenInputs, DbError> inputs_in(const Statement& row, int first);
/// The columns that inputs_in reads, of a table named `i`.
inline constexpr std::string_view input_columns =
    "i.input, i.u_input, i.zeros, i.temperature_K, i.u_temperature_K, i.humidity, i.u_humidity, "
    "i.humidity_temperature_K, i.u_humidity_temperature_K, i.pressure_Pa, i.u_pressure_Pa, i.signal_reasons, "
    "i.gas_reasons, i.other_reasons";
inline constexpr int input_column_count = 14;

} // namespace oxherd::daemon::store
