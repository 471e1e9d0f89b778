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

example=$source/examples/firmware

# cortex_m CORE OUTPUT OPTION... SOURCE...: a program for a Cortex-M with the start-up code of the example.
cortex_m() {
    need arm-none-eabi-g++ gcc-arm-none-eabi
    local core=$1 output=$2
    shift 2
    arm-none-eabi-g++ "${cxx_options[@]}" "${firmware_options[@]}" -mthumb -mcpu="$core" -I"$source/include" "$@" \
        -I"$example" "$example/startup_cortex_m.cpp" -nostdlib -T "$example/cortex_m.ld" -Wl,--gc-sections -lgcc \
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

# copy_alone: $build holds the folder plumbline/embedded in alone/, the two units that use all of it, and header/, a unit for each
# header; $build is the current folder, ${headers[@]} are the copies.
copy_alone() {
    rm -rf "$build" && mkdir -p "$build/alone/plumbline" "$build/header" || exit 1
    cp -r "$source/include/plumbline/embedded" "$build/alone/plumbline/"
    cp "$source/src/embedded/plumbline_embedded.cpp" "$source/tests/firmware/"{everything.cpp,consumer.c} "$build/"
    cd "$build" || exit 1
    headers=(alone/plumbline/embedded/*.hpp alone/plumbline/embedded/*.h)
    ((${#headers[@]} >= 11)) || fail "only ${#headers[@]} headers found"
    local header name
    for header in "${headers[@]}"; do
        name=plumbline/embedded/${header##*/}
        printf '#include <%s>\n#include <%s>\n' "$name" "$name" >"header/${header##*/}.cpp"
    done
}

# check_object PREFIX OBJECT: fails if the object needs anything but the flash and the compiler's own integer helpers (no floating
# point, allocator, unwinder), or takes RAM.
check_object() {
    local prefix=$1 object=$2 symbols needed
    local helpers='__aeabi_(u?idiv|u?idivmod|lmul|llsl|llsr|lasr|memcpy4?|memset4?|memclr4?)|__gnu_thumb1_case_[us]qi'
    [[ $prefix != avr ]] ||
        helpers='__((add|sub|ashl|ashr|lshr|mul)di3|cmpdi2(_s8)?|u?mulhisi3|u?mulsidi3|muluhisi3|mulsi3|udivmodsi4|do_(copy_data|clear_bss))'
    symbols=$("$prefix-nm" --undefined-only "$object") || fail "$object cannot be read"
    needed=$(awk 'NF { print $NF }' <<<"$symbols" | grep -Ev "^(_ZN9any_flash(4read|5erase|7program)E.*|mem(cpy|set|move)|$helpers)\$")
    [[ -z $needed ]] || fail "$object needs what it must not: $needed"
    "$prefix-size" -A "$object" |
        awk '$1 ~ /^\.(data|bss|rodata|init_array|ctors|ARM\.extab)/ && $2 > 0 { print; found = 1 } END { exit found }' ||
        fail "$object has tables, variables or static constructors, see above"
}
