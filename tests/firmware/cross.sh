# Sourced by the tests of this folder: cross compilers and emulators. $source is the top folder, $build a folder of the test's
# own.

# need PROGRAM PACKAGE: fails naming the Debian package.
need() {
    command -v "$1" >/dev/null && return
    printf '%s is missing: install the Debian package %s\n' "$1" "$2"
    exit 1
}

fail() {
    printf '%s\n' "$@"
    exit 1
}

warnings=(-Wall -Wextra -Wpedantic -Wconversion -Wshadow -Werror)
firmware_options=("${warnings[@]}" -ffreestanding -ffunction-sections -fdata-sections -fno-tree-loop-distribute-patterns)
cxx_options=(-std=c++14 -fno-exceptions -fno-rtti -fno-threadsafe-statics)

# cortex_m CORE OUTPUT OPTION... SOURCE...: a program for a Cortex-M with the start-up code of this folder.
cortex_m() {
    need arm-none-eabi-g++ gcc-arm-none-eabi
    local core=$1 output=$2
    shift 2
    arm-none-eabi-g++ "${cxx_options[@]}" "${firmware_options[@]}" -mthumb -mcpu="$core" -I"$source/include" "$@" \
        "$source/tests/firmware/startup_cortex_m.cpp" -nostdlib -T "$source/tests/firmware/cortex_m.ld" -Wl,--gc-sections -lgcc \
        -o "$output" ||
        fail "$output could not be built"
}

# emulate MACHINE PROGRAM OPTION...: what the program prints by semihosting, and its exit code.
emulate() {
    need qemu-system-arm qemu-system-arm
    local machine=$1 program=$2
    shift 2
    timeout 60 qemu-system-arm -M "$machine" -nodefaults -nic none -display none -monitor none \
        -semihosting-config enable=on,target=native -kernel "$program" "$@" 2>&1
}
