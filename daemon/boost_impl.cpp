// The one place where Asio itself is compiled (BOOST_ASIO_SEPARATE_COMPILATION).
#include <utility>

#include <boost/asio/impl/src.hpp>
#include <boost/asio/ssl/impl/src.hpp>
