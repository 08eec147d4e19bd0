// Runs the built program as a user would, and says what came of it.
#pragma once

#include "tests/support/temp_folder.h"

#include <fcntl.h>
#include <pty.h>
#include <sys/wait.h>
#include <unistd.h>

#include <functional>
#include <map>
#include <string>
#include <vector>

namespace support {

struct Ran {
    int exit = -1;  ///< minus the signal when one ended it
    std::string out, err;
};

[[noreturn]] inline void become_program(std::vector<std::string> arguments) {
    arguments.insert(arguments.begin(), std::string(GAPWRIGHT_BINARY) + "/gapwright");
    std::vector<char*> argv;
    for (std::string& word : arguments) argv.push_back(word.data());
    argv.push_back(nullptr);
    execv(argv[0], argv.data());
    _exit(127);
}

/// `meanwhile` is called with the child's process id once it runs.
inline Ran run_program(const std::vector<std::string>& arguments, const std::function<void(pid_t)>& meanwhile = {}) {
    const TempFolder folder;
    const std::string out = (folder.path() / "out").string(), err = (folder.path() / "err").string();
    const pid_t child = fork();
    if (child < 0) throw std::runtime_error("cannot fork");
    if (child == 0) {
        const int out_file = open(out.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
        const int err_file = open(err.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
        const int nothing = open("/dev/null", O_RDONLY);
        if (out_file < 0 || err_file < 0 || dup2(nothing, 0) < 0 || dup2(out_file, 1) < 0 || dup2(err_file, 2) < 0)
            _exit(126);
        become_program(arguments);
    }
    if (meanwhile) meanwhile(child);
    int status = 0;
    waitpid(child, &status, 0);
    return {WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status), read_bytes(out), read_bytes(err)};
}

/// Runs the recipe of an example that the build made; its exit code.
inline int run_recipe(const std::string& example, const std::filesystem::path& out) {
    const pid_t child = fork();
    if (child == 0) {
        const std::string program = std::string(GAPWRIGHT_BINARY) + "/recipe_" + example;
        execl(program.c_str(), program.c_str(), out.c_str(), nullptr);
        _exit(127);
    }
    int status = 0;
    waitpid(child, &status, 0);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

/// Whether this machine gives terminals: a bare chroot without /dev/pts does not.
inline bool has_terminals() {
    int terminal = -1, other = -1;
    if (openpty(&terminal, &other, nullptr, nullptr, nullptr) != 0) return false;
    close(terminal);
    close(other);
    return true;
}

/// What the program shows when its three streams are one terminal.
inline std::string run_on_terminal(const std::vector<std::string>& arguments) {
    int terminal = -1;
    const pid_t child = forkpty(&terminal, nullptr, nullptr, nullptr);
    if (child < 0) throw std::runtime_error("no terminal to be had");
    if (child == 0) become_program(arguments);
    std::string shown;
    char buffer[4096];
    for (ssize_t n = 0; (n = read(terminal, buffer, sizeof buffer)) > 0;)
        shown.append(buffer, static_cast<std::size_t>(n));
    waitpid(child, nullptr, 0);
    close(terminal);
    return shown;
}

/// Everything in a folder, by path, folders included: to show that nothing changed.
inline std::map<std::string, std::string> contents_of(const std::filesystem::path& folder) {
    std::map<std::string, std::string> all;
    for (const auto& entry : std::filesystem::recursive_directory_iterator(folder)) {
        const std::string name = entry.path().lexically_relative(folder).generic_string();
        if (entry.is_directory())
            all[name + "/"] = "";
        else if (entry.is_regular_file())
            all[name] = read_bytes(entry.path());
    }
    return all;
}

}  // namespace support
