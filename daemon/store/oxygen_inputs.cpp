#include "daemon/store/oxygen_inputs.hpp"

#include <array>

#include "daemon/store/basis_text.hpp"
#include "daemon/store/reasons_text.hpp"

namespace oxherd::daemon::store {
namespace {

/// Bases change with a calibration or a reload only: reaching this means that old ones are kept for nothing.
constexpr std::size_t known_bases_max = 4096;

} // namespace

tl::expected<OxygenInputWriter, DbError> OxygenInputWriter::prepared(Database& database) {
  auto input = database.prepare("INSERT INTO oxygen_input VALUES(?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)");
  if (!input) return tl::unexpected(input.error());
  auto add = database.prepare("INSERT INTO basis(text) VALUES(?)");
  if (!add) return tl::unexpected(add.error());
  auto find = database.prepare("SELECT id FROM basis WHERE text = ?");
  if (!find) return tl::unexpected(find.error());
  return OxygenInputWriter{std::move(*input), std::move(*add), std::move(*find)};
}

tl::expected<std::int64_t, DbError> OxygenInputWriter::basis_id(Database& database, const SharedBasis& basis) {
  if (const auto known = known_.find(basis.get()); known != known_.end()) return known->second.id;
  const std::string text = basis_text(*basis);
  const auto found = find_basis_.bind(1, std::string_view{text}).step();
  if (!found) return tl::unexpected(found.error());
  std::int64_t id = *found ? find_basis_.integer(0) : 0;
  find_basis_.reset();
  if (!*found) {
    if (const auto added = add_basis_.bind(1, std::string_view{text}).run(); !added)
      return tl::unexpected(added.error());
    id = database.last_rowid();
  }
  if (known_.size() >= known_bases_max) known_.clear();
  known_.emplace(basis.get(), Known{basis, id});
  return id;
}

tl::expected<void, DbError> OxygenInputWriter::insert(Database& database, std::int64_t reading,
                                                      const OxygenInputs& inputs, const SharedBasis& basis) {
  const auto id = basis_id(database, basis);
  if (!id) return tl::unexpected(id.error());
  const auto& gas = inputs.gas;
  const auto& own = gas.humidity_temperature;
  input_.bind(1, reading).bind(2, *id).bind(3, inputs.si).bind(4, inputs.u_si);
  input_.bind(5, std::int64_t{inputs.zeros_in_a_row});
  int position = 6;
  for (const double value :
       {gas.temperature.value.si(), gas.temperature.u_si, gas.humidity.value.si(), gas.humidity.u_si})
    input_.bind(position++, value);
  input_.bind(position++, own ? std::optional{own->value.si()} : std::nullopt);
  input_.bind(position++, own ? std::optional{own->u_si} : std::nullopt);
  input_.bind(position++, gas.pressure.value.si());
  input_.bind(position++, gas.pressure.u_si);
  // Bound without a copy: the texts live until the step.
  const std::array texts{reasons_text(inputs.signal_reasons), reasons_text(inputs.gas_reasons),
                         reasons_text(inputs.other_reasons)};
  for (const auto& text : texts) {
    if (text.empty())
      input_.bind_null(position++);
    else
      input_.bind(position++, std::string_view{text});
  }
  return input_.run();
}

tl::expected<OxygenInputs, DbError> inputs_in(const Statement& row, int first) {
  OxygenInputs inputs;
  inputs.si = row.optional_real(first);
  inputs.u_si = row.real(first + 1);
  inputs.zeros_in_a_row = static_cast<int>(row.integer(first + 2));
  inputs.gas.temperature = {kelvins(row.real(first + 3)), row.real(first + 4)};
  inputs.gas.humidity = {RelativeHumidity::from_si(row.real(first + 5)), row.real(first + 6)};
  if (!row.is_null(first + 7)) inputs.gas.humidity_temperature = {kelvins(row.real(first + 7)), row.real(first + 8)};
  inputs.gas.pressure = {pascals(row.real(first + 9)), row.real(first + 10)};
  int column = first + 11;
  for (auto* reasons : {&inputs.signal_reasons, &inputs.gas_reasons, &inputs.other_reasons}) {
    auto read = reasons_from(row.text(column++));
    if (!read) return tl::unexpected(DbError{Trouble::other, read.error()});
    *reasons = std::move(*read);
  }
  return inputs;
}

} // namespace oxherd::daemon::store
