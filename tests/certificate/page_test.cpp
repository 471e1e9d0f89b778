// The page as a machine reads it, and its pictures as an eye would: nothing outside, nothing cut, nothing on top of another.

#include <certificate/page_check.hpp>

#include <doctest/doctest.h>
#include <algorithm>
#include <certificate/example_record.hpp>
#include <cmath>
#include <cstddef>
#include <cstdio>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/certificate/certificate.hpp>
#include <plumbline/uncertainty/budget.hpp>
#include <regex>
#include <string>
#include <vector>

namespace page_test {

using namespace plumbline;

namespace {

std::string page_with(const std::string& body) {
    return "<!DOCTYPE html>\n<html lang=\"en\"><head><title>x</title></head><body>" + body + "</body></html>\n";
}

const std::string picture_parts = "<title id=\"t\">a</title><desc id=\"d\">b</desc>";

std::string svg_with(const std::string& attributes, const std::string& inside) {
    return page_with("<svg " + attributes + ">" + inside + "</svg>");
}

std::vector<pugi::xml_node> pictures_of(const pugi::xml_document& page) {
    std::vector<pugi::xml_node> all;
    for (const pugi::xpath_node& found : page.select_nodes("//svg")) all.push_back(found.node());
    return all;
}

std::size_t letters_in(const std::string& text) {
    return static_cast<std::size_t>(
        std::count_if(text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0u) != 0x80u; }));
}

struct box {
    double left, right, top, bottom;
    std::string text;
    [[nodiscard]] bool meets(const box& other) const {
        return left < other.right && other.left < right && top < other.bottom && other.top < bottom;
    }
};

/// Where a label stands with the letters of a narrow screen, 16 high: 8.5 wide on the average, as DejaVu Sans has them.
box place_of(const pugi::xml_node& label) {
    const std::string text = label.child_value();
    const std::string anchor = label.attribute("text-anchor").value();
    const double width = 8.5 * static_cast<double>(letters_in(text));
    const double x = label.attribute("x").as_double();
    const double y = label.attribute("y").as_double();
    const double left = anchor == "start" ? x : anchor == "middle" ? x - 0.5 * width : x - width;
    return {left, left + width, y - 12.0, y + 4.0, text};
}

struct drawn_point {
    double x, low, high, middle;
};

/// Bars of a look with the middle of the mark that follows each.
std::vector<drawn_point> points_of(const pugi::xml_node& picture, const std::string& look) {
    std::vector<drawn_point> all;
    const std::regex bar("M ([0-9.]+) ([0-9.]+) L ([0-9.]+) ([0-9.]+)");
    const std::regex mark("M ([0-9.]+) ([0-9.]+) [ah] .*");
    for (const pugi::xml_node& path : picture.children("path")) {
        const std::string d = path.attribute("d").value();
        std::smatch part;
        if (path.attribute("class").value() == look) {
            REQUIRE(std::regex_match(d, part, bar));
            all.push_back({std::stod(part[1]), std::stod(part[2]), std::stod(part[4]), 0.0});
        } else if (path.attribute("class").value() == look + " mark") {
            REQUIRE(std::regex_match(d, part, mark));
            all.back().middle = std::stod(part[2]) + (look == "found" ? 5.0 : 0.0);  // of the square, whose corner it is
        }
    }
    return all;
}

record::record hostile_scope() {
    const std::string hostile = "<script src=\"http://x\">&amp;'{{number}}]]></style>" + std::string(200, 'w') + "Ω界";
    record::record r = example::complete_scope(hostile);
    for (std::string* text :
         {&r.number, &r.reason, &r.device.description, &r.device.serial, &r.owner.name, &r.place, &r.invented}) {
        *text = hostile;
    }
    for (calibration::reference& ref : r.references) ref.description = hostile;
    return r;
}

std::vector<record::record> records() {
    record::record unipolar = example::pocket_scope();
    unipolar.ranges[0].chain.low = 0.0 * volt;
    unipolar.ranges[0].limit = {};
    for (calibration::check_point& c : unipolar.ranges[0].checks) {
        c.permissible = voltage();
        c.verdict.reset();
    }
    record::record empty;
    return {example::pocket_scope(), example::complete_scope(), hostile_scope(), unipolar, empty};
}

}  // namespace

TEST_CASE("the page is well-formed XML of known elements and attributes, with nothing from outside") {
    for (const record::record& r : records()) CHECK(page_check::fault_of(certificate::html(r)) == "");
}

TEST_CASE("the reader of pages sees what must not be there") {
    using page_check::fault_of;
    const std::string sound = "viewBox=\"0 0 1 1\" role=\"img\" aria-labelledby=\"t\" aria-describedby=\"d\"";
    CHECK(fault_of(page_with("<p>x</p>")) == "");
    CHECK(fault_of(svg_with(sound, picture_parts)) == "");
    CHECK(fault_of("<html></html>") == "no <!DOCTYPE html>");
    CHECK(fault_of(page_with("<p>x<b></p></b>")) == "Start-end tags mismatch");
    CHECK(fault_of(page_with("<p>&nbsp;</p>")) == "entity &nbsp;");
    CHECK(fault_of(page_with("<p class=x>y</p>")) == "Error parsing element attribute");
    CHECK(fault_of(page_with("<script>x</script>")) == "element script");
    CHECK(fault_of(page_with("<p onclick=\"x\">y</p>")) == "attribute onclick of p");
    CHECK(fault_of(page_with("<p class=\"x\" class=\"y\">z</p>")) == "attribute class of p twice");
    CHECK(fault_of(page_with("<a href=\"https://x\">y</a>")) == "reference to https://x");
    CHECK(fault_of(page_with("<a href=\"#y\">y</a>")) == "no element with id y");
    CHECK(fault_of(page_with("<h2 id=\"a\">x</h2><h3 id=\"a\">y</h3>")) == "id a twice");
    CHECK(fault_of(page_with("<!-- x -->")) == "neither element nor text below body");
    CHECK(fault_of(page_with("<meta http-equiv=\"refresh\" content=\"0\" />")) == "meta that acts: refresh");
    CHECK(fault_of(page_with("<style>p { background: url(x) }</style>")) == "style with url(");
    CHECK(fault_of(svg_with("role=\"img\"", picture_parts)) == "a picture whose aria-labelledby is not its title");
    CHECK(fault_of(svg_with(sound, "<title id=\"t\">a</title>")) == "a picture without desc");
    CHECK(fault_of(svg_with("aria-labelledby=\"t\" aria-describedby=\"d\"", picture_parts)) == "a picture without role img");
    CHECK(fault_of(page_with("") + "<p>x</p>") == "not one element html");
}

TEST_CASE("the page asks for A4 with number and page on each, for dark and light, and stacks its tables on a narrow screen") {
    const std::string page = certificate::html(example::pocket_scope());
    for (const char* rule : {"size: A4;", "@bottom-left { content: \"Certificate PS2-0007-2025-03\";",
                             "content: \"Page \" counter(page) \" of \" counter(pages);", "@media (prefers-color-scheme: dark)",
                             "@media screen and (max-width: 40rem)", "<meta name=\"color-scheme\" content=\"light dark\" />",
                             "content=\"default-src 'none'; style-src 'unsafe-inline'\""}) {
        CAPTURE(rule);
        CHECK(page.find(rule) != std::string::npos);
    }
}

TEST_CASE("no label of a picture is cut or lies on another, even with the larger letters of a narrow screen") {
    for (const record::record& r : records()) {
        pugi::xml_document page;
        REQUIRE(page.load_string(certificate::html(r).c_str()));
        const auto pictures = pictures_of(page);
        CHECK(pictures.size() == (r.ranges.empty() ? 0 : 3));
        for (const pugi::xml_node& picture : pictures) {
            CAPTURE(std::string(picture.child("title").child_value()));
            double width = 0.0;
            double height = 0.0;
            REQUIRE(std::sscanf(picture.attribute("viewBox").value(), "0 0 %lf %lf", &width, &height) == 2);
            std::vector<box> placed;
            for (const pugi::xml_node& label : picture.children("text")) {
                const box here = place_of(label);
                CAPTURE(here.text);
                CHECK(here.left >= 0.0);
                CHECK(here.right <= width);
                CHECK(here.top >= 0.0);
                CHECK(here.bottom <= height);
                for (const box& other : placed) {
                    CAPTURE(other.text);
                    CHECK_FALSE(here.meets(other));
                }
                placed.push_back(here);
            }
            CHECK(placed.size() >= 6);
        }
    }
}

TEST_CASE("the picture of errors is to scale: marks at the errors, bars of U on either side") {
    const record::record r = example::complete_scope();
    pugi::xml_document page;
    REQUIRE(page.load_string(certificate::html(r).c_str()));
    const pugi::xml_node picture = page.select_node("//svg[starts-with(title, 'Error')]").node();
    std::vector<drawn_point> found = points_of(picture, "found");
    std::vector<drawn_point> left = points_of(picture, "left");
    REQUIRE(found.size() == 4);  // the last is that of the legend
    REQUIRE(left.size() == 4);
    double zero = 0.0;
    double pixels = 0.0;  // for 20 mV
    for (const pugi::xml_node& label : picture.children("text")) {
        if (std::string(label.child_value()) == "0\u00A0V" && std::string(label.attribute("text-anchor").value()) == "end") {
            zero = label.attribute("y").as_double() - 5.0;
        }
    }
    for (const pugi::xml_node& label : picture.children("text")) {
        if (std::string(label.child_value()) == "50\u00A0mV") pixels = (zero - (label.attribute("y").as_double() - 5.0)) / 50e-3;
    }
    REQUIRE(pixels > 0.0);
    std::size_t n_found = 0;
    std::size_t n_left = 0;
    constexpr double tenth = 0.11;  // places are rounded to 0.1
    for (const calibration::check_point& c : r.ranges[0].checks) {
        const drawn_point& drawn = c.as_found ? found[n_found++] : left[n_left++];
        CHECK(std::abs(drawn.middle - (zero - pixels * c.error.value())) <= tenth);
        CHECK(std::abs(drawn.low - (zero - pixels * (c.error - c.U).value())) <= tenth);
        CHECK(std::abs(drawn.high - (zero - pixels * (c.error + c.U).value())) <= tenth);
    }
    for (std::size_t i = 1; i < 3; ++i) {
        const double by_voltage = (r.ranges[0].checks[2 * i + 1].applied_value - r.ranges[0].checks[1].applied_value).value();
        CHECK(std::abs(left[i].x - left[0].x - 19.0 * by_voltage) <= tenth);  // 380 pixels for 20 V
        CHECK(std::abs(left[i].x - found[i].x - 12.0) <= tenth);
    }
}

TEST_CASE("the picture of U is to scale: each curve goes through the library's U") {
    const record::record r = example::complete_scope();
    const calibration::range_calibration& range = r.ranges[0];
    pugi::xml_document page;
    REQUIRE(page.load_string(certificate::html(r).c_str()));
    const pugi::xml_node picture = page.select_node("//svg[starts-with(title, 'U of')]").node();
    const auto height_of = [&](const char* tick) {
        for (const pugi::xml_node& label : picture.children("text")) {
            if (std::string(label.child_value()) == tick) return label.attribute("y").as_double() - 5.0;
        }
        return 0.0;
    };
    const double at_10_mV = height_of("10\u00A0mV");
    const double decade = at_10_mV - height_of("0.1\u00A0V");
    REQUIRE(at_10_mV > 0.0);
    REQUIRE(decade > 0.0);
    const auto when = calibration::at_calibration(range);
    const auto U = [&](const std::string& look, codes c) {
        const auto y = look == "curve whole" ? calibration::reading(r.inputs, r.references, range, c, when)
                       : look == "curve dashed"
                           ? calibration::reading_in_use(r.inputs, r.references, range, c, 1.0, *range.in_use)
                           : calibration::uncalibrated_reading(r.inputs, range, c, when);
        return uncertainty::make_convolved_budget(y).U;
    };
    for (const char* look : {"curve whole", "curve dashed", "curve dotted"}) {
        CAPTURE(look);
        std::string path = picture.find_child_by_attribute("path", "class", look).attribute("d").value();
        const std::regex place("[ML] ([0-9.]+) ([0-9.]+)");
        int points = 0;
        for (std::sregex_iterator at(path.begin(), path.end(), place); at != std::sregex_iterator(); ++at) {
            const voltage v = (static_cast<double>(points) - 10.0) * volt;
            const double expected = at_10_mV - decade * std::log10(U(look, calibration::code_at(range, v)) / 10e-3);
            CHECK(std::abs(std::stod(at->str(1)) - (76.0 + 19.0 * points)) <= 0.06);
            CHECK(std::abs(std::stod(at->str(2)) - expected) <= 0.21);  // three places rounded to 0.1
            ++points;
        }
        CHECK(points == 21);
    }
}

TEST_CASE("shape and not colour alone tells the lines and marks of a picture apart") {
    pugi::xml_document page;
    REQUIRE(page.load_string(certificate::html(example::complete_scope()).c_str()));
    for (const char* look : {"curve whole", "curve dashed", "curve dotted", "found mark", "left mark", "limit"}) {
        CAPTURE(look);
        CHECK(page.select_nodes((std::string("//path[@class='") + look + "']").c_str()).size() >= 2);
    }
    const std::string style = page.select_node("//style").node().child_value();
    for (const char* rule : {"svg .dashed { stroke-dasharray: 8 4; }", "svg .dotted { stroke-dasharray: 2 4; }",
                             "svg .found.mark { fill: var(--paper);", "svg .left.mark { fill: var(--accent); }"}) {
        CAPTURE(rule);
        CHECK(style.find(rule) != std::string::npos);
    }
}

TEST_CASE("the bars of a budget are as long as its shares") {
    pugi::xml_document page;
    REQUIRE(page.load_string(certificate::html(example::complete_scope()).c_str()));
    const pugi::xml_node picture = page.select_node("//svg[starts-with(title, 'Shares')]").node();
    std::vector<double> lengths;
    double whole = 0.0;
    const std::regex bar("M [0-9.]+ [0-9.]+ h ([0-9.]+) v .*");
    for (const pugi::xml_node& path : picture.children("path")) {
        const std::string d = path.attribute("d").value();
        std::smatch part;
        REQUIRE(std::regex_match(d, part, bar));
        if (path.attribute("class").value() == std::string("track")) {
            whole = std::stod(part[1]);
        } else {
            lengths.push_back(std::stod(part[1]));
        }
    }
    REQUIRE(lengths.size() >= 5);
    double sum = 0.0;
    std::size_t n = 0;
    for (const pugi::xml_node& label : picture.children("text")) {
        if (label.attribute("text-anchor").value() != std::string("end")) continue;
        const std::string said = label.child_value();
        const double length = lengths[n++];
        sum += length;
        if (said.find("below") == std::string::npos) CHECK(std::abs(length / whole - std::stod(said) / 100.0) <= 0.001);
    }
    CHECK(n == lengths.size());
    CHECK(std::abs(sum - whole) <= 0.06 * static_cast<double>(n));
}

}  // namespace page_test
