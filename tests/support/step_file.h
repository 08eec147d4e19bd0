// The text of a STEP file (ISO 10303-21) as a table of entity instances. It knows the grammar of the text and nothing
// of what the entities mean. Part of a reader that shares no code with the program nor with its kernel, so that what
// the program writes is read once by something else; see step_reader.h.
#pragma once

#include <stdexcept>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

namespace outside {

/// The file does not follow the standard, or says something this reader does not read; the text says what and where.
struct StepFault : std::runtime_error {
    using std::runtime_error::runtime_error;
};

/// One argument of a record.
struct Value {
    enum class Kind { Number, String, Enumeration, Reference, List, Typed, Omitted, Derived };
    Kind kind = Kind::Omitted;
    double number = 0.0;
    int id = 0;                ///< of a reference
    std::string text;          ///< of a string (UTF-8), an enumeration (without its points), a typed value (its type)
    std::vector<Value> items;  ///< of a list, of a typed value

    double as_number() const;  ///< also of a typed number
    int as_id() const;
    const std::string& as_string() const;
    bool as_bool() const;
    const std::vector<Value>& as_list() const;
    bool is_omitted() const { return kind == Kind::Omitted; }
};

struct Record {
    std::string name;
    std::vector<Value> arguments;

    const Value& at(std::size_t i) const;
};

/// One instance: a single record, or several when it is a complex one.
struct Entity {
    std::vector<Record> records;

    const Record* find(std::string_view name) const;
    bool is(std::string_view name) const { return find(name) != nullptr; }
};

class StepFile {
public:
    /// Faults: StepFault  the text breaks the grammar, an id is given twice, or a reference dangles
    explicit StepFile(std::string_view text);

    const Entity& entity(int id) const;
    /// The record called `name` of instance `id`. Faults: StepFault  it has none.
    const Record& record(int id, std::string_view name) const;
    /// Ids of all instances with a record of that name, rising.
    std::vector<int> all(std::string_view name) const;
    const std::string& schema() const { return schema_; }

private:
    std::unordered_map<int, Entity> entities_;
    std::string schema_;
};

}  // namespace outside
