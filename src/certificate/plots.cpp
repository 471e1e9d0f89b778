#include "plots.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <plumbline/certificate/rounding.hpp>
#include <string>
#include <string_view>
#include <utility>

namespace plumbline::inline v0::certificate {
namespace {

// Pixels of the view. Letters are up to 16 high (on a narrow screen) and then about 8.5 wide: the places below leave room for that.
constexpr int picture_width = 480;
constexpr int plane_height = 300;
constexpr double letter = 8.6;
constexpr double left_edge = 76.0;
constexpr double right_edge = 456.0;
constexpr double top_edge = 52.0;
constexpr double bottom_edge = 248.0;

std::string px(double at) { return fixed(at, 1); }

std::string point(double x, double y) { return px(x) + ' ' + px(y); }

std::string segment(double x1, double y1, double x2, double y2) { return "M " + point(x1, y1) + " L " + point(x2, y2); }

std::string dot(double x, double y, double radius) {
    const std::string half = " a " + point(radius, radius) + " 0 1 0 ";
    return "M " + point(x - radius, y) + half + point(2.0 * radius, 0.0) + half + point(-2.0 * radius, 0.0) + " z";
}

std::string box(double x, double y, double width, double height) {
    return "M " + point(x, y) + " h " + px(width) + " v " + px(height) + " h " + px(-width) + " z";
}

std::string volts(double v) { return together(as_stated(v, unit_symbol<voltage>)); }

/// 1, 2 or 5 times a power of ten, the smallest of which so many or fewer fill the length.
double step_for(double length, int at_most) {
    const double power = std::pow(10.0, std::floor(std::log10(length / at_most)));
    for (const double step : {power, 2.0 * power, 5.0 * power}) {
        if (step * at_most >= length * (1.0 - 1e-9)) return step;
    }
    return 10.0 * power;
}

std::vector<double> ticks(double low, double high, int at_most) {
    const double step = step_for(high - low, at_most);
    std::vector<double> all;
    for (double n = std::ceil(low / step - 1e-9); n * step <= high + 1e-9 * step; ++n) all.push_back(n == 0.0 ? 0.0 : n * step);
    return all;
}

/// 1, 2 and 5 times the powers of ten between, 1 and the ends alone where these are many.
std::vector<double> logarithmic_ticks(double low, double high) {
    const bool wide = high / low > 200.0;
    std::vector<double> all;
    const int last = static_cast<int>(std::ceil(std::log10(high)));
    for (int n = static_cast<int>(std::floor(std::log10(low))); n <= last; ++n) {
        for (const double m : {1.0, 2.0, 5.0}) {
            const double tick = m * std::pow(10.0, n);
            if (tick >= low * (1.0 - 1e-9) && tick <= high * (1.0 + 1e-9) && (m == 1.0 || !wide)) all.push_back(tick);
        }
    }
    return all;
}

struct ends {
    double low;
    double high;
};

enum class scale { linear, logarithmic };

/// A picture with two axes.
class plane {
public:
    plane(std::string title, ends across, ends up, scale vertical) : across_(across), up_(up), vertical_(vertical) {
        out_.title = std::move(title);
        out_.width = picture_width;
        out_.height = plane_height;
    }

    [[nodiscard]] double x(double v) const {
        return left_edge + (right_edge - left_edge) * (v - across_.low) / (across_.high - across_.low);
    }
    [[nodiscard]] double y(double v) const {
        const double part = vertical_ == scale::linear ? (v - up_.low) / (up_.high - up_.low)
                                                       : std::log(v / up_.low) / std::log(up_.high / up_.low);
        return bottom_edge - (bottom_edge - top_edge) * part;
    }

    void axes(const std::string& horizontal, const std::string& vertical) {
        for (const double v : vertical_ == scale::linear ? ticks(up_.low, up_.high, 6) : logarithmic_ticks(up_.low, up_.high)) {
            stroke(v == 0.0 ? "axis" : "grid", segment(left_edge, y(v), right_edge, y(v)));
            label("end", left_edge - 8.0, y(v) + 5.0, volts(v));
        }
        for (const double v : ticks(across_.low, across_.high, 5)) {
            stroke("axis", segment(x(v), bottom_edge, x(v), bottom_edge + 5.0));
            label("middle", x(v), bottom_edge + 22.0, volts(v));
        }
        stroke("axis", segment(left_edge, bottom_edge, right_edge, bottom_edge));
        stroke("axis", segment(left_edge, top_edge, left_edge, bottom_edge));
        label("middle", 0.5 * (left_edge + right_edge), plane_height - 6.0, horizontal);
        label("start", 8.0, 16.0, vertical);
        out_.description = "Across: " + horizontal + " from " + volts(across_.low) + " to " + volts(across_.high) +
                           ". Up: " + vertical + " from " + volts(up_.low) + " to " + volts(up_.high) + '.';
    }

    void stroke(const std::string& look, const std::string& path) { out_.strokes.push_back({look, path}); }

    void label(const char* anchor, double at_x, double at_y, const std::string& text) {
        out_.labels.push_back({anchor, px(at_x), px(at_y), text});
    }

    /// What follows the sample that the caller draws around the middle of the place returned.
    double legend(const std::string& text) {
        constexpr double sample = 30.0;
        const double middle = legend_at_ + 0.5 * sample;
        label("start", legend_at_ + sample + 4.0, legend_y + 5.0, text);
        legend_at_ += sample + 14.0 + letter * static_cast<double>(text.size());
        return middle;
    }

    void describe(const std::string& sentence) { out_.description += ' ' + sentence; }

    [[nodiscard]] picture finished() { return std::move(out_); }

    static constexpr double legend_y = 36.0;

private:
    ends across_;
    ends up_;
    scale vertical_;
    double legend_at_ = left_edge;
    picture out_;
};

void draw_found(plane& on, double x, double low, double high, double middle) {
    on.stroke("found", segment(x, low, x, high));
    on.stroke("found mark", box(x - 5.0, middle - 5.0, 10.0, 10.0));
}

void draw_left(plane& on, double x, double low, double high, double middle) {
    on.stroke("left", segment(x, low, x, high));
    on.stroke("left mark", dot(x, middle, 5.0));
}

/// At most so many letters, a wide one counted twice, with an ellipsis where some are missing.
std::string shortened(std::string_view text, std::size_t at_most) {
    std::size_t used = 0;
    std::size_t kept = 0;
    for (std::size_t at = 0; at < text.size();) {
        const auto lead = static_cast<unsigned char>(text[at]);
        const std::size_t length = lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : lead >= 0xC0 ? 2 : 1;
        used += length >= 3 ? 2 : 1;
        if (used > at_most) return std::string(text.substr(0, kept)) + "…";
        at += length;
        if (used < at_most) kept = at;
    }
    return std::string(text);
}

}  // namespace

picture error_picture(const calibration::range_calibration& range) {
    ends across{range.chain.low.value(), range.chain.high.value()};
    double most = 0.0;
    bool found = false;
    bool left = false;
    bool limited = false;
    for (const calibration::check_point& c : range.checks) {
        across.low = std::min(across.low, c.applied_value.value());
        across.high = std::max(across.high, c.applied_value.value());
        most = std::max({most, std::abs(c.error.value()) + c.U.value(), c.permissible.value()});
        (c.as_found ? found : left) = true;
        limited = limited || c.permissible > voltage();
    }
    const double step = step_for(2.0 * most, 6);
    const double top = step * std::ceil(most / step - 1e-9);
    const std::string what = found && left ? "as found and as left" : found ? "as found" : "as left";
    plane out("Error ± U at the check points, " + what + (limited ? ", with the limits" : ""), across, {-top, top},
              scale::linear);
    out.axes("applied voltage", "error");

    const double beside = found && left ? 6.0 : 0.0;
    constexpr double half_limit = 10.0;
    for (const calibration::check_point& c : range.checks) {
        const double x = out.x(c.applied_value.value()) + (c.as_found ? -beside : beside);
        const double e = c.error.value();
        const double U = c.U.value();
        if (c.permissible > voltage()) {
            for (const double limit : {c.permissible.value(), -c.permissible.value()}) {
                out.stroke("limit", segment(x - half_limit, out.y(limit), x + half_limit, out.y(limit)));
            }
        }
        (c.as_found ? draw_found : draw_left)(out, x, out.y(e - U), out.y(e + U), out.y(e));
    }
    constexpr double at = plane::legend_y;
    if (found) {
        draw_found(out, out.legend("as found"), at - 11.0, at + 11.0, at);
        out.describe("Hollow squares with dashed bars: as found.");
    }
    if (left) {
        draw_left(out, out.legend("as left"), at - 11.0, at + 11.0, at);
        out.describe("Dots with whole bars: as left.");
    }
    if (limited) {
        const double x = out.legend("limit");
        out.stroke("limit", segment(x - half_limit, at, x + half_limit, at));
        out.describe("Short bars across: limits of error.");
    }
    if (found && left) out.describe("The two stand a little beside the voltage so that both are seen.");
    out.describe("Each bar is error ± U; the figures are those of the table.");
    return out.finished();
}

picture U_picture(const std::vector<voltage>& at, const std::vector<curve>& all) {
    ends U{all.front().U.front(), all.front().U.front()};
    for (const curve& c : all) {
        const auto [low, high] = std::minmax_element(c.U.begin(), c.U.end());
        U = {std::min(U.low, *low), std::max(U.high, *high)};
    }
    const double decade_below = std::pow(10.0, std::floor(std::log10(U.low)));
    const double decade_above = std::pow(10.0, std::floor(std::log10(U.high)));
    ends up{decade_below, 10.0 * decade_above};
    for (const double m : {2.0, 5.0}) {
        if (m * decade_below <= U.low) up.low = m * decade_below;
    }
    for (const double m : {5.0, 2.0}) {
        if (m * decade_above >= U.high) up.high = m * decade_above;
    }
    plane out("U of one sample over the range", {at.front().value(), at.back().value()}, up, scale::logarithmic);
    out.axes("reading", "U (logarithmic)");
    for (const curve& c : all) {
        const std::string look = c.drawn == curve::line::whole    ? "curve whole"
                                 : c.drawn == curve::line::dashed ? "curve dashed"
                                                                  : "curve dotted";
        const std::string in_words = c.drawn == curve::line::whole    ? "Whole line"
                                     : c.drawn == curve::line::dashed ? "Dashed line"
                                                                      : "Dotted line";
        std::string path;
        for (std::size_t i = 0; i < at.size(); ++i) {
            path += (i == 0 ? "M " : " L ") + point(out.x(at[i].value()), out.y(c.U[i]));
        }
        out.stroke(look, path);
        const double x = out.legend(c.name);
        out.stroke(look, segment(x - 14.0, plane::legend_y, x + 14.0, plane::legend_y));
        const auto [low, high] = std::minmax_element(c.U.begin(), c.U.end());
        out.describe(in_words + ": " + c.name + ", from " + together(significant(*low, 2, unit_symbol<voltage>)) + " to " +
                     together(significant(*high, 2, unit_symbol<voltage>)) + '.');
    }
    return out.finished();
}

picture shares_picture(const std::string& title, const std::vector<share>& all) {
    constexpr double left = 4.0;
    constexpr double right = 476.0;
    constexpr double row = 38.0;
    constexpr double bar = 10.0;
    constexpr std::size_t letters = 44;
    picture out;
    out.title = title;
    out.width = picture_width;
    out.height = static_cast<int>(row * static_cast<double>(all.size())) + 4;
    out.description = "A whole bar would be all of u².";
    double y = 0.0;
    for (const share& s : all) {
        const double length = (right - left) * std::clamp(s.of_u_squared, 0.0, 1.0);
        out.labels.push_back({"start", px(left), px(y + 17.0), shortened(s.label, letters)});
        out.labels.push_back({"end", px(right), px(y + 17.0), s.text});
        out.strokes.push_back({"track", box(left, y + 23.0, right - left, bar)});
        out.strokes.push_back({"share", box(left, y + 23.0, length, bar)});
        out.description += ' ' + s.label + ": " + s.text + '.';
        y += row;
    }
    return out;
}

}  // namespace plumbline::inline v0::certificate
