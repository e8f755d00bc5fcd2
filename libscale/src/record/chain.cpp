#include "record/chain.h"

#include <openssl/evp.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <stdexcept>

#include <scale/lab.h>

namespace scale {
namespace {

constexpr std::string_view kHexDigits = "0123456789abcdef";

void add_field(std::string& message, std::string_view field) {
  message += std::to_string(field.size());
  message += ':';
  message += field;
}

bool two_digits_below(const std::string& text, std::size_t at, int limit) {
  const char tens = text[at], units = text[at + 1];
  return tens >= '0' && tens <= '9' && units >= '0' && units <= '9' && (tens - '0') * 10 + units - '0' < limit;
}

}  // namespace

std::string sha256(std::string_view bytes) {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int length = 0;
  if (EVP_Digest(bytes.data(), bytes.size(), digest.data(), &length, EVP_sha256(), nullptr) != 1)
    throw std::runtime_error("SHA-256 is not to be had from libcrypto");
  std::string text;
  for (unsigned int i = 0; i < length; ++i) {
    text += kHexDigits[digest[i] >> 4U];
    text += kHexDigits[digest[i] & 15U];
  }
  return text;
}

bool is_utc_time(const std::string& text) {
  constexpr std::string_view kForm = "2026-02-28T09:30:00Z";
  if (text.size() != kForm.size() || text[10] != 'T' || text[13] != ':' || text[16] != ':' || text[19] != 'Z')
    return false;
  return parse_date(std::string_view(text).substr(0, 10)).has_value() && two_digits_below(text, 11, 24) &&
         two_digits_below(text, 14, 60) && two_digits_below(text, 17, 60);
}

std::string record::chain_hash(const std::string& previous, std::int64_t number, const RecordDraft& draft) {
  std::string message;
  message.reserve(draft.content.size() + 256);
  add_field(message, "gradus/record/1");
  add_field(message, previous);
  add_field(message, std::to_string(number));
  add_field(message, draft.kind);
  add_field(message, draft.setup);
  add_field(message, draft.about ? std::to_string(*draft.about) : "");
  add_field(message, draft.made_at);
  add_field(message, draft.made_by);
  add_field(message, draft.content);
  return sha256(message);
}

}  // namespace scale
