#include "file_hash.h"

#include <scale/register.h>

#include <fstream>
#include <iterator>

namespace gradus {

std::string hash_of_file(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  return scale::sha256(std::string(std::istreambuf_iterator<char>(file), {}));
}

}  // namespace gradus
