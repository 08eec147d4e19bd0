#include "geom/job/internal/table.h"

#include "geom/core/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <iterator>

namespace geom::job {

namespace {

int line_of(const toml::node& node) {
    return static_cast<int>(node.source().begin.line);
}

std::string bracketed(const std::string& dotted) {
    return "[" + dotted + "]";
}

/// The table's own name where it has one: lists read better with it than with a number.
std::string element_title(const std::string& list, const toml::table& table, std::size_t number) {
    const auto name = table["name"].value<std::string>();
    if (name && !name->empty()) return fmt::format("[[{}]] '{}'", list, *name);
    return fmt::format("[[{}]] {}", list, number);
}

}  // namespace

std::string shown(const toml::node& node) {
    if (const auto text = node.value_exact<std::string>()) return fmt::format("\"{}\"", *text);
    if (const auto whole = node.value_exact<int64_t>()) return fmt::format("{}", *whole);
    if (const auto number = node.value_exact<double>()) return plain_number(*number);
    if (const auto truth = node.value_exact<bool>()) return *truth ? "true" : "false";
    if (node.is_array()) return fmt::format("a list of {}", node.as_array()->size());
    if (node.is_table()) return "a table";
    return "a date or time";
}

// The file ----------------------------------------------------------------------------------------------------------

Result<std::unique_ptr<FileReading>> FileReading::open(const std::filesystem::path& file, std::string_view what_file) {
    const auto unreadable = [&](std::string what, std::string hint) {
        return Fault{FaultCode::Unreadable, std::move(what), std::move(hint), {}, "job"};
    };
    const std::string name = fmt::format("{} {}", what_file, file.string());
    std::error_code error;
    if (!std::filesystem::exists(file, error)) return unreadable(name + ": no such file", "check the path");
    if (std::filesystem::is_directory(file, error))
        return unreadable(name + ": is a folder, wanted a file", "name the file in it");
    std::ifstream stream(file, std::ios::binary);
    const std::string bytes{std::istreambuf_iterator<char>(stream), {}};
    if (!stream) return unreadable(name + ": cannot be read", "check who may read it");
    if (bytes.find_first_not_of(" \t\r\n") == std::string::npos)
        return unreadable(name + ": is empty", fmt::format("a {} is TOML text with at least one table", what_file));
    if (bytes.find('\0') != std::string::npos)
        return unreadable(name + ": is not text (it holds zero bytes)",
                          fmt::format("a {} is TOML text; was a scan or a picture named instead?", what_file));

    auto reading = std::make_unique<FileReading>();
    reading->file_ = file;
    reading->kind_ = what_file;
    try {
        reading->top_ = toml::parse(bytes, file.string());
    } catch (const toml::parse_error& wrong) {
        return unreadable(
            fmt::format("{}:{}: not TOML: {}", reading->label(), wrong.source().begin.line, wrong.description()),
            "correct that line; the file may also end too early");
    }
    return reading;
}

Table FileReading::root(std::string prefix) {
    return Table(*this, &top_, "", std::move(prefix), 0);
}

void FileReading::add_fault(FaultCode code, int line, std::string what, std::string hint) {
    const std::string place = line > 0 ? fmt::format("{}:{}: ", label(), line) : label() + ": ";
    found_.push_back({false, line, {code, place + std::move(what), std::move(hint), {}, "job"}});
}

void FileReading::add_missing(int line, std::string what, std::string hint) {
    add_fault(FaultCode::BadJob, line, std::move(what), std::move(hint));
    found_.back().is_missing = true;
}

void FileReading::judge_unknown_keys() {
    for (const auto& [dotted, asked] : asked_) {
        if (asked.table == nullptr || !asked.is_judged) continue;
        const std::vector<std::string> known(asked.keys.begin(), asked.keys.end());
        const std::string in = asked.title.empty() ? "in the " + kind_ : "in " + asked.title;
        for (const auto& [key, node] : *asked.table) {
            const std::string name(key.str());
            if (asked.keys.count(name) != 0) continue;
            std::string what = fmt::format("unknown key '{}' {}", name, in);
            std::string home;
            for (const auto& [elsewhere, other] : asked_)
                if (home.empty() && elsewhere.find('[') == std::string::npos && other.keys.count(name) != 0)
                    home = other.title.empty() ? bracketed(name) : other.title;
            const std::string near = nearest_word(name, known);
            if (!near.empty())
                what += fmt::format("; did you mean '{}'?", near);
            else if (!home.empty())
                what += fmt::format("; it belongs in {}", home);
            add_fault(FaultCode::BadJob, static_cast<int>(key.source().begin.line), std::move(what),
                      fmt::format("keys known {}: {}", in, listed(known)));
        }
    }
}

Status FileReading::finish() {
    judge_unknown_keys();
    if (found_.empty()) return Done{};
    return std::min_element(found_.begin(), found_.end(),
                            [](const Found& a, const Found& b) {
                                return std::pair(a.is_missing, a.line) < std::pair(b.is_missing, b.line);
                            })
        ->fault;
}

// One table ---------------------------------------------------------------------------------------------------------

Table::Table(FileReading& file, const toml::table* node, std::string title, std::string dotted, int line)
    : file_(&file), node_(node), title_(std::move(title)), dotted_(std::move(dotted)), line_(line) {
    auto& asked = file_->asked_[dotted_];
    asked.table = node_;
    asked.title = title_;
}

std::string Table::title_of(const std::string& key) const {
    if (!title_.empty()) return title_ + " " + key;
    return dotted_.empty() ? bracketed(key) : key;  // a job's top holds sections, a driver's file plain keys
}

int Table::line(const std::string& key) const {
    return has(key) ? line_of(*node_->get(key)) : line_;
}

const toml::node* Table::ask(const std::string& key, bool is_required) const {
    file_->asked_[dotted_].keys.insert(key);
    if (has(key)) return node_->get(key);
    if (is_required && is_there())
        file_->add_missing(line_, fmt::format("{} is missing", title_of(key)), "give it; it has no default");
    return nullptr;
}

void Table::wrong_type(const std::string& key, const toml::node& node, std::string_view wanted) const {
    file_->add_fault(FaultCode::BadJob, line_of(node),
                     fmt::format("{} is {}; wanted {}", title_of(key), shown(node), wanted),
                     "text stands in quotes, numbers without, lists in [ ], tables in { }");
}

void Table::note(const std::string& key, std::string text, bool is_default) const {
    file_->resolved[dotted_of(key)] = is_default ? std::move(text) + " (default)" : std::move(text);
}

void Table::refuse(const std::string& key, const std::string& what, std::string hint, FaultCode code) const {
    file_->add_fault(code, line(key), fmt::format("{} {}", title_of(key), what), std::move(hint));
}

void Table::not_built(const std::string& key, std::string hint) const {
    if (const toml::node* node = ask(key, false))
        file_->add_fault(FaultCode::NotBuilt, line_of(*node), fmt::format("{} is not built yet", title_of(key)),
                         std::move(hint));
}

void Table::judge_no_keys() const {
    file_->asked_[dotted_].is_judged = false;
}

// Numbers -----------------------------------------------------------------------------------------------------------

bool Table::is_allowed(const std::string& key, double value, const std::string& text, Allowed allowed,
                       std::string_view zero) const {
    if (!std::isfinite(value)) {
        refuse(key, fmt::format("is {}; wanted a finite number", text));
        return false;
    }
    if (allowed == Allowed::NotNegative && value < 0.0) {
        refuse(key, fmt::format("is {}; wanted {} or more", text, zero));
        return false;
    }
    if (allowed == Allowed::Positive && value <= 0.0) {
        refuse(key, fmt::format("is {}; wanted more than {}", text, zero));
        return false;
    }
    return true;
}

std::optional<double> Table::quantity(const std::string& key, QuantityKind kind, Allowed allowed,
                                      bool is_required) const {
    const toml::node* node = ask(key, is_required);
    if (node == nullptr) return std::nullopt;
    double base = 0.0;
    if (const auto text = node->value_exact<std::string>()) {
        const auto parsed = parse_quantity(*text, kind);
        if (!parsed) {
            refuse(key, parsed.error().what);
            return std::nullopt;
        }
        base = *parsed;
    } else if (node->is_number()) {
        if (kind != QuantityKind::Length) {
            refuse(key, fmt::format("is {} without a unit; wanted {} with its unit, such as {}", shown(*node),
                                    with_article(kind), example_of(kind)));
            return std::nullopt;
        }
        base = *node->value<double>() * file_->length_unit().in_base;
    } else {
        wrong_type(key, *node, fmt::format("{} such as {}", with_article(kind), example_of(kind)));
        return std::nullopt;
    }
    const std::string zero = quantity_text(0.0, kind);
    if (!is_allowed(key, base, quantity_text(base, kind), allowed, zero)) return std::nullopt;
    note(key, quantity_text(base, kind), false);
    return base;
}

std::optional<double> Table::plain(const std::string& key, Allowed allowed, const char* unit, bool is_required) const {
    const toml::node* node = ask(key, is_required);
    if (node == nullptr) return std::nullopt;
    if (!node->is_number()) {
        wrong_type(key, *node, fmt::format("a bare number{}", *unit != 0 ? fmt::format(", in{}", unit) : ""));
        return std::nullopt;
    }
    const double value = *node->value<double>();
    if (!is_allowed(key, value, plain_number(value) + unit, allowed, std::string("0") + unit)) return std::nullopt;
    note(key, plain_number(value) + unit, false);
    return value;
}

Length Table::length(const std::string& key, Allowed allowed, std::optional<Length> fallback) const {
    if (const auto mm = quantity(key, QuantityKind::Length, allowed, !fallback)) return Length::mm(*mm);
    if (fallback && !has(key)) note(key, quantity_text(fallback->mm(), QuantityKind::Length), true);
    return fallback.value_or(Length{});
}

Volume Table::volume(const std::string& key, Allowed allowed, std::optional<Volume> fallback) const {
    if (const auto mm3 = quantity(key, QuantityKind::Volume, allowed, !fallback)) return Volume::mm3(*mm3);
    if (fallback && !has(key)) note(key, quantity_text(fallback->mm3(), QuantityKind::Volume), true);
    return fallback.value_or(Volume{});
}

Area Table::area(const std::string& key, Allowed allowed, std::optional<Area> fallback) const {
    if (const auto mm2 = quantity(key, QuantityKind::Area, allowed, !fallback)) return Area::mm2(*mm2);
    if (fallback && !has(key)) note(key, quantity_text(fallback->mm2(), QuantityKind::Area), true);
    return fallback.value_or(Area{});
}

Angle Table::angle(const std::string& key, std::optional<Angle> fallback) const {
    if (const auto rad = quantity(key, QuantityKind::Angle, Allowed::Any, !fallback)) return Angle::rad(*rad);
    if (fallback && !has(key)) note(key, quantity_text(fallback->rad(), QuantityKind::Angle), true);
    return fallback.value_or(Angle{});
}

double Table::number(const std::string& key, Allowed allowed, std::optional<double> fallback, const char* unit) const {
    if (const auto value = plain(key, allowed, unit, !fallback)) return *value;
    if (fallback && !has(key)) note(key, plain_number(*fallback) + unit, true);
    return fallback.value_or(0.0);
}

int Table::count(const std::string& key, int least, std::optional<int> fallback) const {
    const toml::node* node = ask(key, !fallback);
    if (node == nullptr) {
        if (fallback) note(key, std::to_string(*fallback), true);
        return fallback.value_or(least);
    }
    const auto whole = node->value_exact<int64_t>();
    if (!whole) {
        wrong_type(key, *node, "a whole number");
    } else if (*whole < least || *whole > 1000000) {
        refuse(key, fmt::format("is {}; wanted {} to 1000000", *whole, least));
    } else {
        note(key, std::to_string(*whole), false);
        return static_cast<int>(*whole);
    }
    return fallback.value_or(least);
}

std::optional<Length> Table::maybe_length(const std::string& key, Allowed allowed, std::string otherwise) const {
    const auto mm = quantity(key, QuantityKind::Length, allowed, false);
    if (!has(key) && !otherwise.empty()) note(key, std::move(otherwise), true);
    return mm ? std::optional(Length::mm(*mm)) : std::nullopt;
}

std::optional<Volume> Table::maybe_volume(const std::string& key, Allowed allowed, std::string otherwise) const {
    const auto mm3 = quantity(key, QuantityKind::Volume, allowed, false);
    if (!has(key) && !otherwise.empty()) note(key, std::move(otherwise), true);
    return mm3 ? std::optional(Volume::mm3(*mm3)) : std::nullopt;
}

std::optional<Area> Table::maybe_area(const std::string& key, Allowed allowed, std::string otherwise) const {
    const auto mm2 = quantity(key, QuantityKind::Area, allowed, false);
    if (!has(key) && !otherwise.empty()) note(key, std::move(otherwise), true);
    return mm2 ? std::optional(Area::mm2(*mm2)) : std::nullopt;
}

std::optional<double> Table::maybe_number(const std::string& key, Allowed allowed, std::string otherwise,
                                          const char* unit) const {
    const auto value = plain(key, allowed, unit, false);
    if (!has(key) && !otherwise.empty()) note(key, std::move(otherwise), true);
    return value;
}

// Words, points, lists ----------------------------------------------------------------------------------------------

bool Table::flag(const std::string& key, bool fallback) const {
    const toml::node* node = ask(key, false);
    if (node == nullptr) {
        note(key, fallback ? "true" : "false", true);
        return fallback;
    }
    const auto value = node->value_exact<bool>();
    if (!value) {
        wrong_type(key, *node, "true or false");
        return fallback;
    }
    note(key, *value ? "true" : "false", false);
    return *value;
}

std::string Table::text(const std::string& key, std::optional<std::string> fallback) const {
    const toml::node* node = ask(key, !fallback);
    if (node == nullptr) {
        if (fallback && !fallback->empty()) note(key, *fallback, true);
        return fallback.value_or("");
    }
    const auto value = node->value_exact<std::string>();
    if (!value) {
        wrong_type(key, *node, "text in quotes");
        return fallback.value_or("");
    }
    if (value->find_first_not_of(" \t\r\n") == std::string::npos) {
        refuse(key, "is empty text", "give it, or leave the key out");
        return fallback.value_or("");
    }
    note(key, *value, false);
    return *value;
}

std::vector<std::string> Table::texts(const std::string& key) const {
    std::vector<std::string> words;
    const toml::node* node = ask(key, true);
    if (node == nullptr) return words;
    const toml::array* list = node->as_array();
    if (list == nullptr || list->empty()) {
        wrong_type(key, *node, "a list of at least one text, such as [\"gap.ply\"]");
        return words;
    }
    for (const toml::node& item : *list) {
        const auto value = item.value_exact<std::string>();
        if (!value || value->empty()) {
            wrong_type(key, item, "text in quotes");
            return {};
        }
        words.push_back(*value);
    }
    note(key, listed(words, ""), false);
    return words;
}

std::vector<Table::TextOrTable> Table::texts_or_tables(const std::string& key) const {
    std::vector<TextOrTable> items;
    const toml::array* list = has(key) ? node_->get(key)->as_array() : nullptr;
    const bool any_table = list != nullptr && std::any_of(list->begin(), list->end(),
                                                          [](const toml::node& item) { return item.is_table(); });
    if (!any_table) {
        for (std::string& word : texts(key)) items.push_back({std::move(word), {}});
        return items;
    }
    ask(key, true);
    for (const toml::node& item : *list) {
        const std::size_t number = items.size() + 1;
        if (const toml::table* inner = item.as_table()) {
            items.push_back({{},
                             Table(*file_, inner, fmt::format("{} {}", title_of(key), number),
                                   fmt::format("{}[{}]", dotted_of(key), number), line_of(item))});
            continue;
        }
        const auto value = item.value_exact<std::string>();
        if (!value || value->empty()) {
            wrong_type(key, item, "text in quotes or a table such as { file = \"gap.ply\" }");
            return {};
        }
        items.push_back({*value, {}});
    }
    return items;
}

std::vector<Point3> Table::points(const std::string& key, std::size_t least, std::size_t most,
                                  const char* wanted) const {
    return coordinates(key, least, most, 3, wanted);
}

std::vector<Point3> Table::flat_points(const std::string& key, std::size_t least, std::size_t most,
                                       const char* wanted) const {
    return coordinates(key, least, most, 2, wanted);
}

std::vector<Point3> Table::coordinates(const std::string& key, std::size_t least, std::size_t most, std::size_t each,
                                       const char* wanted) const {
    const toml::node* node = ask(key, true);
    if (node == nullptr) return {};
    const toml::array* list = node->as_array();
    std::vector<Point3> found;
    std::string words;
    if (list == nullptr || list->size() < least || list->size() > most) {
        wrong_type(key, *node, wanted);
        return {};
    }
    for (const toml::node& item : *list) {
        const toml::array* one = item.as_array();
        if (one == nullptr || one->size() != each) {
            wrong_type(key, item,
                       each == 3 ? "a point of three lengths, such as [0, 120, 160]"
                                 : "a point of two lengths, such as [40, -25]");
            return {};
        }
        Point3 p;
        for (std::size_t a = 0; a < each; ++a) {
            const auto value = element(key, *one->get(a));
            if (!value) return {};
            p[a] = *value;
        }
        found.push_back(p);
        words += (words.empty() ? "" : "; ") +
                 (each == 3 ? plain_vector(p) : fmt::format("{}, {}", plain_number(p.x), plain_number(p.y)));
    }
    note(key, words + " mm", false);
    return found;
}

std::optional<double> Table::element(const std::string& key, const toml::node& node) const {
    if (const auto text = node.value_exact<std::string>()) {
        const auto parsed = parse_quantity(*text, QuantityKind::Length);
        if (parsed) return *parsed;
        file_->add_fault(FaultCode::BadJob, line_of(node),
                         fmt::format("{}: a number in it {}", title_of(key), parsed.error().what), "");
        return std::nullopt;
    }
    if (!node.is_number()) {
        file_->add_fault(FaultCode::BadJob, line_of(node),
                         fmt::format("{}: {} in it is no length", title_of(key), shown(node)),
                         "a length is a bare number or text with a unit");
        return std::nullopt;
    }
    const double value = *node.value<double>() * file_->length_unit().in_base;
    if (std::isfinite(value)) return value;
    file_->add_fault(FaultCode::BadJob, line_of(node),
                     fmt::format("{}: {} in it is not finite", title_of(key), shown(node)), "");
    return std::nullopt;
}

std::vector<double> Table::lengths(const std::string& key, std::size_t least, std::size_t most,
                                   const char* wanted) const {
    const toml::node* node = ask(key, true);
    if (node == nullptr) return {};
    const toml::array* list = node->as_array();
    if (list == nullptr || list->size() < least || list->size() > most) {
        wrong_type(key, *node, wanted);
        return {};
    }
    std::vector<double> values;
    std::vector<std::string> words;
    for (const toml::node& item : *list) {
        const auto value = element(key, item);
        if (!value) return {};
        values.push_back(*value);
        words.push_back(plain_number(*value));
    }
    note(key, listed(words, "") + " mm", false);
    return values;
}

Point3 Table::point(const std::string& key, std::optional<Point3> fallback) const {
    if (fallback && !has(key)) {
        ask(key, false);
        note(key, plain_vector(*fallback) + " mm", true);
        return *fallback;
    }
    const auto mm = lengths(key, 3, "a point of three lengths, such as [0, 120, 160]");
    return mm.size() == 3 ? Point3{mm[0], mm[1], mm[2]} : fallback.value_or(Point3{});
}

std::optional<Vec3> Table::maybe_direction(const std::string& key, std::string otherwise) const {
    const toml::node* node = ask(key, false);
    if (node == nullptr) {
        if (!otherwise.empty()) note(key, std::move(otherwise), true);
        return std::nullopt;
    }
    const toml::array* list = node->as_array();
    Vec3 v;
    bool is_good = list != nullptr && list->size() == 3;
    for (std::size_t a = 0; is_good && a < 3; ++a) {
        is_good = list->get(a)->is_number();
        if (is_good) v[a] = *list->get(a)->value<double>();
    }
    if (!is_good) {
        wrong_type(key, *node, "a direction of three bare numbers, such as [0, -1, 0]");
        return std::nullopt;
    }
    if (!is_finite(v)) {
        refuse(key, fmt::format("is {}; wanted finite numbers", plain_vector(v)));
        return std::nullopt;
    }
    // Scaled first: squares of what is large or small leave the range of numbers.
    const double most = std::max({std::abs(v.x), std::abs(v.y), std::abs(v.z)});
    if (most < 1e-9) {
        refuse(key, fmt::format("is {}, which points nowhere; wanted a direction such as [0, -1, 0]", plain_vector(v)));
        return std::nullopt;
    }
    note(key, plain_vector(v), false);
    return unit({v.x / most, v.y / most, v.z / most});
}

Vec3 Table::direction(const std::string& key, std::optional<Vec3> fallback) const {
    ask(key, !fallback);
    if (const auto given = maybe_direction(key, fallback ? plain_vector(*fallback) : "")) return *given;
    return fallback.value_or(Vec3{0, 0, 1});
}

std::string Table::word_of(const std::string& key, const std::vector<std::string>& words,
                           const std::vector<std::string>& later, const std::optional<std::string>& fallback) const {
    const std::string word = text(key, fallback);
    if (!is_text(key) || std::find(words.begin(), words.end(), word) != words.end()) return word;
    if (std::find(later.begin(), later.end(), word) != later.end()) {
        judge_no_keys();
        refuse(key, fmt::format("= \"{}\" is not built yet", word), "built so far: " + listed(words),
               FaultCode::NotBuilt);
        return fallback.value_or("");
    }
    std::vector<std::string> known = words;
    known.insert(known.end(), later.begin(), later.end());
    const std::string near = nearest_word(word, known);
    refuse(key, fmt::format("is \"{}\"; wanted {}{}", word, listed(words, "or"),
                            near.empty() ? "" : fmt::format("; did you mean \"{}\"?", near)));
    return fallback.value_or("");
}

// Tables in tables --------------------------------------------------------------------------------------------------

Table Table::table(const std::string& key) const {
    const toml::node* node = ask(key, false);
    const std::string title = title_of(key);
    if (node != nullptr && !node->is_table()) wrong_type(key, *node, "a table");
    const toml::table* inner = node != nullptr ? node->as_table() : nullptr;
    return Table(*file_, inner, title, dotted_of(key), inner != nullptr ? line_of(*inner) : line_);
}

Table Table::required_table(const std::string& key) const {
    if (!has(key) && is_there())
        file_->add_missing(line_, fmt::format("{} is missing", title_of(key)), "give it; it has no default");
    return table(key);
}

std::vector<Table> Table::tables(const std::string& key) const {
    std::vector<Table> found;
    const toml::node* node = ask(key, false);
    if (node == nullptr) return found;
    const toml::array* list = node->as_array();
    if (list == nullptr || (!list->empty() && !list->is_homogeneous(toml::node_type::table))) {
        wrong_type(key, *node, "a list of tables");
        return found;
    }
    for (const toml::node& item : *list) {
        const std::size_t number = found.size() + 1;
        found.push_back(Table(*file_, item.as_table(), element_title(dotted_of(key), *item.as_table(), number),
                              fmt::format("{}[{}]", dotted_of(key), number), line_of(item)));
    }
    return found;
}

bool Table::is_list_of_lists_or_tables(const std::string& key) const {
    if (!is_list(key)) return false;
    for (const toml::node& item : *node_->get(key)->as_array())
        if (item.is_array() || item.is_table()) return true;
    return false;
}

}  // namespace geom::job
