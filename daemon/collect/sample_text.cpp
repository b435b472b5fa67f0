#include "daemon/collect/sample_text.hpp"

#include <charconv>
#include <chrono>

namespace oxherd::daemon::collect {
namespace {

void append_digits(std::string& text, std::int64_t value, int digits) {
  char buffer[20];
  for (int i = digits - 1; i >= 0; --i, value /= 10) buffer[i] = static_cast<char>('0' + value % 10);
  text.append(buffer, static_cast<std::size_t>(digits));
}

template <class Number> void set_number(std::string& text, Number value) {
  char buffer[32]; // the shortest decimal that reads back as the same number
  const auto [end, error] = std::to_chars(buffer, buffer + sizeof buffer, value);
  text.assign(buffer, end);
}

} // namespace

void append_time(std::string& text, SampleTime at) {
  using namespace std::chrono;
  const auto day = floor<days>(at);
  const year_month_day date{day};
  const std::int64_t of_day = (at - day).count();
  append_digits(text, int{date.year()}, 4);
  text += '-';
  append_digits(text, unsigned{date.month()}, 2);
  text += '-';
  append_digits(text, unsigned{date.day()}, 2);
  text += ' ';
  append_digits(text, of_day / 3'600'000'000, 2);
  text += ':';
  append_digits(text, of_day / 60'000'000 % 60, 2);
  text += ':';
  append_digits(text, of_day / 1'000'000 % 60, 2);
  text += '.';
  append_digits(text, of_day % 1'000'000, 6);
  text += "+00";
}

std::string time_text(SampleTime at) {
  std::string text;
  append_time(text, at);
  return text;
}

const SampleText::Fields& SampleText::fields(int channel, const Sample& sample) {
  set_number(channel_, channel);
  at_.clear();
  append_time(at_, sample.at);
  if (sample.quality) set_number(quality_, *sample.quality);
  if (sample.value) set_number(value_, *sample.value);
  fields_ = {channel_.c_str(), sample.quality ? quality_.c_str() : nullptr, at_.c_str(),
             sample.value ? value_.c_str() : nullptr, sample.words ? sample.words->c_str() : nullptr};
  return fields_;
}

} // namespace oxherd::daemon::collect
