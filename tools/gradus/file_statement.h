// What an image file says of its scale, from its tags to the engine's words, and in the register.
#pragma once

#include <images/picture.h>
#include <scale/drift.h>

#include <nlohmann/json.hpp>
#include <string>

namespace gradus {

// By the tags alone.
scale::FileStatement statement_of(const images::Picture& picture);

// The rescaling trace in the pixels, which takes a transform of the whole picture; of a header alone it is not looked
// for.
void look_for_rescaling(scale::FileStatement& statement, const images::Picture& picture, scale::Trace trace);

// As the register keeps it; a field that the file does not state is left out.
nlohmann::ordered_json statement_json(const scale::FileStatement& statement);
// Of a calibration that was recorded without one: no field is stated.
scale::FileStatement statement_of(const nlohmann::json& json, int width, int height);

// When the picture was taken by the file's own word, "2026-02-28T09:30:00Z" with the camera's clock taken as UTC;
// empty when it does not say, or says nonsense.
std::string taken_at(const images::FileFacts& facts);

}  // namespace gradus
