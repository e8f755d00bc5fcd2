// SHA-256 of a file, for the register.
#pragma once

#include <string>

namespace gradus {

// 64 hexadecimal digits; of a file that cannot be read those of no bytes.
std::string hash_of_file(const std::string& path);

}  // namespace gradus
