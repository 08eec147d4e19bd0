// Reads the tables of one TOML file key by key. Whatever is asked for counts as known; what stands in the file and was
// never asked for is an unknown key. Faults are gathered with their lines, so that reading code goes straight on; the
// first of the file is what comes out at the end.
//
// Titles in faults   "[space] clearance", "[enclosure] baffle thickness", "[[fixing]] 'rail' thread".
// Keys of `resolved` "space.clearance", "enclosure.baffle.thickness", "fixing[1].thread" (counted from 1).
#pragma once

#include "geom/core/result.h"
#include "geom/core/units.h"
#include "geom/fixings/threads.h"
#include "geom/job/quantity.h"

#include <toml++/toml.h>

#include <filesystem>
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

namespace geom::job {

/// What a number may be.
enum class Allowed { Any, NotNegative, Positive };

class Table;

/// One file while it is read.
class FileReading {
public:
    /// Faults: Unreadable  missing, a folder, empty, not text, not TOML (with the line)
    static Result<std::unique_ptr<FileReading>> open(const std::filesystem::path& file, std::string_view what_file);

    /// The file's own top table. `prefix` goes before its keys in `resolved`.
    Table root(std::string prefix = {});
    /// Unit of bare lengths; mm until set.
    void set_length_unit(Unit unit) { length_unit_ = unit; }
    const Unit& length_unit() const { return length_unit_; }

    /// `line` 0: the file as a whole. Text gets the place in front.
    void add_fault(FaultCode code, int line, std::string what, std::string hint);
    /// A key that should be there; told only when nothing worse is.
    void add_missing(int line, std::string what, std::string hint);
    /// Unknown keys become faults; then the first fault of the file, if any, comes back.
    Status finish();

    /// dotted key -> text, given or defaulted
    std::map<std::string, std::string> resolved;
    /// Rows that the job adds to the table of threads.
    std::vector<fixings::Thread> own_threads;
    /// Names the file as faults do: "job.toml".
    std::string label() const { return file_.filename().string(); }
    std::filesystem::path folder() const { return file_.parent_path(); }

private:
    friend class Table;
    struct Asked {
        const toml::table* table = nullptr;
        std::string title;
        std::set<std::string> keys;
        bool is_judged = true;
    };
    struct Found {
        bool is_missing = false;
        int line = 0;
        Fault fault;
    };
    void judge_unknown_keys();

    std::filesystem::path file_;
    std::string kind_;  ///< "job file"
    toml::table top_;
    Unit length_unit_{QuantityKind::Length, "mm", 1.0};
    std::map<std::string, Asked> asked_;  ///< by the place in `resolved` keys
    std::vector<Found> found_;
};

/// One table of the file, or the place where it would be: reading a missing table gives every default and no fault.
class Table {
public:
    bool is_there() const { return node_ != nullptr; }
    bool has(const std::string& key) const { return node_ != nullptr && node_->contains(key); }
    int line(const std::string& key) const;
    int line() const { return line_; }
    const std::string& title() const { return title_; }
    std::string title_of(const std::string& key) const;
    FileReading& file() const { return *file_; }

    // Each reads a key; without a fallback the key has to be there. After a fault the value is the fallback or zero.
    Length length(const std::string& key, Allowed allowed, std::optional<Length> fallback = {}) const;
    Volume volume(const std::string& key, Allowed allowed, std::optional<Volume> fallback = {}) const;
    Area area(const std::string& key, Allowed allowed, std::optional<Area> fallback = {}) const;
    Angle angle(const std::string& key, std::optional<Angle> fallback = {}) const;
    /// A bare number; `unit` is what it counts, with a blank in front, for faults and `resolved`: " kg".
    double number(const std::string& key, Allowed allowed, std::optional<double> fallback = {},
                  const char* unit = "") const;
    int count(const std::string& key, int least, std::optional<int> fallback = {}) const;
    bool flag(const std::string& key, bool fallback) const;
    std::string text(const std::string& key, std::optional<std::string> fallback = {}) const;
    std::vector<std::string> texts(const std::string& key) const;
    /// A list of which each item is text or a table; tables have an empty text.
    struct TextOrTable;
    std::vector<TextOrTable> texts_or_tables(const std::string& key) const;
    /// A list of `n` points, in millimetres; empty after a fault.
    std::vector<Point3> points(const std::string& key, std::size_t n, const char* wanted) const {
        return points(key, n, n, wanted);
    }
    /// The same for `least` to `most` points.
    std::vector<Point3> points(const std::string& key, std::size_t least, std::size_t most, const char* wanted) const;
    /// Points of a plane, x and y; z is 0.
    std::vector<Point3> flat_points(const std::string& key, std::size_t least, std::size_t most,
                                    const char* wanted) const;
    /// Three lengths in millimetres.
    Point3 point(const std::string& key, std::optional<Point3> fallback = {}) const;
    /// Three bare numbers, not all zero; comes back with unit length.
    Vec3 direction(const std::string& key, std::optional<Vec3> fallback = {}) const;
    /// `n` lengths in millimetres.
    std::vector<double> lengths(const std::string& key, std::size_t n, const char* wanted) const {
        return lengths(key, n, n, wanted);
    }
    /// The same for `least` to `most` lengths.
    std::vector<double> lengths(const std::string& key, std::size_t least, std::size_t most, const char* wanted) const;

    // The same for keys that may be left out; `otherwise` is what `resolved` then says ("" says nothing).
    std::optional<Length> maybe_length(const std::string& key, Allowed allowed, std::string otherwise = {}) const;
    std::optional<Volume> maybe_volume(const std::string& key, Allowed allowed, std::string otherwise = {}) const;
    std::optional<Area> maybe_area(const std::string& key, Allowed allowed, std::string otherwise = {}) const;
    std::optional<double> maybe_number(const std::string& key, Allowed allowed, std::string otherwise = {},
                                       const char* unit = "") const;
    std::optional<Vec3> maybe_direction(const std::string& key, std::string otherwise = {}) const;

    /// One of a few words. A word of `later` is refused as not built yet, and the other keys of the table with it.
    template <class Value>
    Value choice(const std::string& key, const std::vector<std::pair<std::string, Value>>& known,
                 const std::vector<std::string>& later, std::optional<Value> fallback) const {
        std::vector<std::string> words;
        for (const auto& [word, value] : known) words.push_back(word);
        std::optional<std::string> default_word;
        for (const auto& [word, value] : known)
            if (fallback && value == *fallback) default_word = word;
        const std::string chosen = word_of(key, words, later, default_word);
        for (const auto& [word, value] : known)
            if (word == chosen) return value;
        return fallback.value_or(known.front().second);
    }

    Table table(const std::string& key) const;
    Table required_table(const std::string& key) const;
    /// A list of tables, `[[key]]` or `key = [ {..}, .. ]`; none when the key is missing.
    std::vector<Table> tables(const std::string& key) const;
    bool is_text(const std::string& key) const { return has(key) && node_->get(key)->is_string(); }
    bool is_table(const std::string& key) const { return has(key) && node_->get(key)->is_table(); }
    bool is_list(const std::string& key) const { return has(key) && node_->get(key)->is_array(); }
    bool is_list_empty(const std::string& key) const { return is_list(key) && node_->get(key)->as_array()->empty(); }
    bool is_list_of_lists_or_tables(const std::string& key) const;

    /// The key counts as known, whether it is read or not.
    void known(const std::string& key) const { ask(key, false); }
    /// The key is known; when it is there it is refused by name.
    void not_built(const std::string& key, std::string hint) const;
    /// Says that what the key holds makes no sense: "[space] clearance <what>".
    void refuse(const std::string& key, const std::string& what, std::string hint = {},
                FaultCode code = FaultCode::BadJob) const;
    /// Its keys are not judged: for a table that is refused as a whole.
    void judge_no_keys() const;
    /// Writes a line of `resolved` that no key gave.
    void note(const std::string& key, std::string text, bool is_default) const;

private:
    friend class FileReading;
    Table(FileReading& file, const toml::table* node, std::string title, std::string dotted, int line);

    const toml::node* ask(const std::string& key, bool is_required) const;
    void wrong_type(const std::string& key, const toml::node& node, std::string_view wanted) const;
    std::optional<double> quantity(const std::string& key, QuantityKind kind, Allowed allowed, bool is_required) const;
    std::optional<double> element(const std::string& key, const toml::node& node) const;
    std::vector<Point3> coordinates(const std::string& key, std::size_t least, std::size_t most, std::size_t each,
                                    const char* wanted) const;
    std::optional<double> plain(const std::string& key, Allowed allowed, const char* unit, bool is_required) const;
    bool is_allowed(const std::string& key, double value, const std::string& text, Allowed allowed,
                    std::string_view zero) const;
    std::string word_of(const std::string& key, const std::vector<std::string>& words,
                        const std::vector<std::string>& later, const std::optional<std::string>& fallback) const;
    std::string dotted_of(const std::string& key) const { return dotted_.empty() ? key : dotted_ + "." + key; }

    FileReading* file_;
    const toml::table* node_;
    std::string title_, dotted_;
    int line_;
};

struct Table::TextOrTable {
    std::string text;
    std::optional<Table> table;
};

/// "'abc'", "4", "true", "a list", "a table": a value as faults show it.
std::string shown(const toml::node& node);

}  // namespace geom::job
