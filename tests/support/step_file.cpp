// Clause 6 to 9 of ISO 10303-21: tokens, then records by recursive descent. User-defined entities (!NAME), external
// references and signature sections are refused: none of our files may have them.
#include "tests/support/step_file.h"

#include <algorithm>
#include <cctype>
#include <charconv>

namespace outside {
namespace {

void append_utf8(std::string& out, unsigned code) {
    if (code < 0x80) {
        out += static_cast<char>(code);
    } else if (code < 0x800) {
        out += static_cast<char>(0xC0 | (code >> 6));
        out += static_cast<char>(0x80 | (code & 0x3F));
    } else {
        out += static_cast<char>(0xE0 | (code >> 12));
        out += static_cast<char>(0x80 | ((code >> 6) & 0x3F));
        out += static_cast<char>(0x80 | (code & 0x3F));
    }
}

class Parser {
public:
    explicit Parser(std::string_view text) : text_(text) {}

    void skip() {
        while (at_ < text_.size()) {
            if (std::isspace(static_cast<unsigned char>(text_[at_]))) {
                ++at_;
            } else if (text_.substr(at_, 2) == "/*") {
                const std::size_t end = text_.find("*/", at_ + 2);
                if (end == std::string_view::npos) fail("a comment does not end");
                at_ = end + 2;
            } else {
                return;
            }
        }
    }
    bool take(char c) {
        skip();
        if (at_ >= text_.size() || text_[at_] != c) return false;
        ++at_;
        return true;
    }
    void want(char c) {
        if (!take(c)) fail(std::string("'") + c + "' wanted");
    }
    std::string keyword() {
        skip();
        const std::size_t begin = at_;
        while (at_ < text_.size() &&
               (std::isupper(static_cast<unsigned char>(text_[at_])) ||
                std::isdigit(static_cast<unsigned char>(text_[at_])) || text_[at_] == '_' || text_[at_] == '-'))
            ++at_;
        if (at_ == begin) fail("a keyword wanted");
        return std::string(text_.substr(begin, at_ - begin));
    }
    int identifier() {
        int id = 0;
        const auto [end, error] = std::from_chars(text_.data() + at_, text_.data() + text_.size(), id);
        if (error != std::errc() || id <= 0) fail("an instance's number wanted");
        at_ = static_cast<std::size_t>(end - text_.data());
        return id;
    }
    Record record() { return record_called(keyword()); }
    Record record_called(std::string name) {
        want('(');
        return {std::move(name), rest_of_list()};
    }
    bool next_is_keyword() {
        skip();
        return at_ < text_.size() && std::isupper(static_cast<unsigned char>(text_[at_]));
    }
    [[noreturn]] void fail(const std::string& what) const {
        const auto line =
            1 +
            std::count(text_.begin(), text_.begin() + static_cast<std::ptrdiff_t>(std::min(at_, text_.size())), '\n');
        throw StepFault("STEP text, line " + std::to_string(line) + ": " + what);
    }

private:
    std::vector<Value> rest_of_list() {
        std::vector<Value> items;
        if (take(')')) return items;
        do items.push_back(value());
        while (take(','));
        want(')');
        return items;
    }
    Value value() {
        skip();
        if (at_ >= text_.size()) fail("the text ends inside a record");
        Value v;
        const char c = text_[at_];
        if (c == '#') {
            ++at_;
            v.kind = Value::Kind::Reference;
            v.id = identifier();
        } else if (c == '\'') {
            v.kind = Value::Kind::String;
            v.text = string();
        } else if (c == '(') {
            ++at_;
            v.kind = Value::Kind::List;
            v.items = rest_of_list();
        } else if (c == '$') {
            ++at_;
        } else if (c == '*') {
            ++at_;
            v.kind = Value::Kind::Derived;
        } else if (c == '.') {
            ++at_;
            v.kind = Value::Kind::Enumeration;
            v.text = keyword();
            if (at_ >= text_.size() || text_[at_] != '.') fail("an enumeration does not end");
            ++at_;
        } else if (std::isupper(static_cast<unsigned char>(c))) {
            Record typed = record();
            v.kind = Value::Kind::Typed;
            v.text = std::move(typed.name);
            v.items = std::move(typed.arguments);
        } else {
            if (c == '+') ++at_;
            v.kind = Value::Kind::Number;
            const auto [end, error] = std::from_chars(text_.data() + at_, text_.data() + text_.size(), v.number);
            if (error != std::errc()) fail("a value wanted");
            at_ = static_cast<std::size_t>(end - text_.data());
        }
        return v;
    }
    /// Doubled quotes, \X\hh, \X2\hhhh...\X0\ and line breaks (which do not belong to the string).
    std::string string() {
        std::string out;
        ++at_;
        for (;; ++at_) {
            if (at_ >= text_.size()) fail("a string does not end");
            const char c = text_[at_];
            if (c == '\'') {
                if (text_.substr(at_, 2) != "''") break;
                ++at_;
                out += c;
            } else if (text_.substr(at_, 4) == "\\X2\\") {
                for (at_ += 4; text_.substr(at_, 4) != "\\X0\\"; at_ += 4) append_utf8(out, hexadecimal(4));
                at_ += 3;
            } else if (text_.substr(at_, 3) == "\\X\\") {
                at_ += 3;
                append_utf8(out, hexadecimal(2));
                at_ += 1;
            } else if (text_.substr(at_, 2) == "\\\\") {
                ++at_;
                out += c;
            } else if (c != '\n' && c != '\r') {
                out += c;
            }
        }
        ++at_;
        return out;
    }
    unsigned hexadecimal(std::size_t digits) const {
        unsigned code = 0;
        if (at_ + digits > text_.size()) fail("a string does not end");
        const char* begin = text_.data() + at_;
        const auto [end, error] = std::from_chars(begin, begin + digits, code, 16);
        if (error != std::errc() || end != begin + digits) fail("hexadecimal digits wanted");
        return code;
    }

    std::string_view text_;
    std::size_t at_ = 0;
};

void check_references(const std::unordered_map<int, Entity>& entities, const Value& value, int from) {
    if (value.kind == Value::Kind::Reference && !entities.contains(value.id))
        throw StepFault("STEP: #" + std::to_string(from) + " refers to #" + std::to_string(value.id) +
                        ", which is not there");
    for (const Value& item : value.items) check_references(entities, item, from);
}

[[noreturn]] void wrong(const char* wanted, const Value& value) {
    static const char* const kinds[] = {
        "a number", "a string", "an enumeration", "a reference", "a list", "a typed value", "$", "*"};
    throw StepFault(std::string("STEP: ") + wanted + " wanted, " + kinds[static_cast<int>(value.kind)] + " found");
}

}  // namespace

double Value::as_number() const {
    if (kind == Kind::Typed && items.size() == 1) return items.front().as_number();
    if (kind != Kind::Number) wrong("a number", *this);
    return number;
}
int Value::as_id() const {
    if (kind != Kind::Reference) wrong("a reference", *this);
    return id;
}
const std::string& Value::as_string() const {
    if (kind != Kind::String && kind != Kind::Enumeration) wrong("a string", *this);
    return text;
}
bool Value::as_bool() const {
    if (kind != Kind::Enumeration || (text != "T" && text != "F")) wrong(".T. or .F.", *this);
    return text == "T";
}
const std::vector<Value>& Value::as_list() const {
    if (kind != Kind::List) wrong("a list", *this);
    return items;
}

const Value& Record::at(std::size_t i) const {
    if (i >= arguments.size())
        throw StepFault("STEP: " + name + " has " + std::to_string(arguments.size()) + " arguments only");
    return arguments[i];
}

const Record* Entity::find(std::string_view name) const {
    for (const Record& r : records)
        if (r.name == name) return &r;
    return nullptr;
}

StepFile::StepFile(std::string_view text) {
    Parser p(text);
    if (p.keyword() != "ISO-10303-21") p.fail("this is no STEP file");
    p.want(';');
    if (p.keyword() != "HEADER") p.fail("HEADER wanted");
    p.want(';');
    while (p.next_is_keyword()) {
        const std::string word = p.keyword();
        if (word == "ENDSEC") break;
        const Record header = p.record_called(word);
        p.want(';');
        if (word == "FILE_SCHEMA") schema_ = header.at(0).as_list().at(0).as_string();
    }
    p.want(';');
    if (p.keyword() != "DATA") p.fail("DATA wanted");
    p.want(';');
    while (p.take('#')) {
        const int id = p.identifier();
        p.want('=');
        Entity entity;
        if (p.take('(')) {
            while (p.next_is_keyword()) entity.records.push_back(p.record());
            p.want(')');
        } else {
            entity.records.push_back(p.record());
        }
        p.want(';');
        if (!entities_.emplace(id, std::move(entity)).second) p.fail("#" + std::to_string(id) + " is given twice");
    }
    if (p.keyword() != "ENDSEC") p.fail("ENDSEC wanted");
    p.want(';');
    if (p.keyword() != "END-ISO-10303-21") p.fail("the file's end wanted");
    p.want(';');
    for (const auto& [id, entity] : entities_)
        for (const Record& r : entity.records)
            for (const Value& v : r.arguments) check_references(entities_, v, id);
}

const Entity& StepFile::entity(int id) const {
    const auto it = entities_.find(id);
    if (it == entities_.end()) throw StepFault("STEP: #" + std::to_string(id) + " is not there");
    return it->second;
}

const Record& StepFile::record(int id, std::string_view name) const {
    const Entity& e = entity(id);
    if (const Record* r = e.find(name)) return *r;
    throw StepFault("STEP: #" + std::to_string(id) + " is " + (e.records.empty() ? "nothing" : e.records.front().name) +
                    ", " + std::string(name) + " wanted");
}

std::vector<int> StepFile::all(std::string_view name) const {
    std::vector<int> ids;
    for (const auto& [id, entity] : entities_)
        if (entity.is(name)) ids.push_back(id);
    std::sort(ids.begin(), ids.end());
    return ids;
}

}  // namespace outside
