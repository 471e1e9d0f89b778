#include <plumbline/uncertainty/sensitivities.hpp>

#include <fmt/format.h>
#include <cmath>

namespace plumbline::inline v0::uncertainty {

combined_uncertainty combine(std::span<const double> sensitivities, std::span<const double> u,
                             std::span<const double> degrees_of_freedom) {
    if (u.size() != sensitivities.size() || (!degrees_of_freedom.empty() && degrees_of_freedom.size() != u.size())) {
        throw bad_input("combined uncertainty",
                        fmt::format("{} sensitivities, {} uncertainties and {} degrees of freedom", sensitivities.size(),
                                    u.size(), degrees_of_freedom.size()),
                        "as many of each, or no degrees of freedom", "give one of each for each input");
    }
    double variance = 0.0;
    double doubt = 0.0;
    for (std::size_t i = 0; i < u.size(); ++i) {
        const double part = sensitivities[i] * u[i] * sensitivities[i] * u[i];
        variance += part;
        if (!degrees_of_freedom.empty()) doubt += part * part / degrees_of_freedom[i];
    }
    return {std::sqrt(variance), doubt > 0.0 ? variance * variance / doubt : infinite};
}

}  // namespace plumbline::inline v0::uncertainty
